#include "calibration/standards/weights.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <utility>

namespace calibration {
namespace {

// See [OIML-R111]: from 100 g up the limit is this part of the mass.
constexpr std::array<std::pair<std::string_view, double>, 6> kClasses = {{
    {"E2", 1.6e-6},
    {"F1", 5e-6},
    {"F2", 16e-6},
    {"M1", 50e-6},
    {"M2", 160e-6},
    {"M3", 500e-6},
}};

}  // namespace

protocol::Result<double> weight_relative_error_limit(std::string_view weight_class) {
  for (const auto& [name, limit] : kClasses) {
    if (name == weight_class) return limit;
  }
  return protocol::Error{
      protocol::Errc::input_out_of_range,
      fmt::format("'{}' is not a known class of weights; known are {}. State the uncertainty "
                  "instead where the class is another.",
                  weight_class, weight_class_list())};
}

protocol::Result<double> weight_relative_standard_uncertainty(std::string_view weight_class) {
  const protocol::Result<double> limit = weight_relative_error_limit(weight_class);
  if (!limit) return limit.error();
  return *limit / std::sqrt(3.0);
}

std::string weight_class_list() {
  std::string list;
  for (const auto& [name, limit] : kClasses) {
    if (!list.empty()) list += ", ";
    list += name;
  }
  return list;
}

}  // namespace calibration
