// How a report looks: on a wide screen, on a phone, and on paper.
#pragma once

#include <string_view>

namespace fitting {

std::string_view report_style_sheet();

}  // namespace fitting
