// The page's own files, as they were built: nothing is read from the disk while the program runs,
// so there is no path to climb out of.
#pragma once

#include <span>
#include <string_view>

namespace controller::panel {

struct PageFile {
  std::string_view target;  // "/", "/assets/page.js"
  std::string_view content_type;
  std::string_view content;
};

}  // namespace controller::panel
