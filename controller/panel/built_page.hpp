// The page as it was built from web/, embedded by the build; nothing where there was no Node.js.
#pragma once

#include <span>

#include "controller/panel/page_files.hpp"

namespace controller::panel {

std::span<const PageFile> built_page();

}  // namespace controller::panel
