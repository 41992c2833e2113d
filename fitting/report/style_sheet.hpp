// How a report looks: on a wide screen, on a phone, and on paper.
#pragma once

#include <string_view>

namespace fitting {

std::string_view report_style_sheet();

// Laid over it: what makes a certificate compact.
std::string_view certificate_style_sheet();

}  // namespace fitting
