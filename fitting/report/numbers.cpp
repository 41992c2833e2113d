#include "fitting/report/numbers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "protocol/units.hpp"

namespace fitting {

std::string rounded(double value, int decimals) {
  if (!std::isfinite(value)) return "–";
  std::string text = fmt::format("{:.{}f}", std::abs(value), decimals);
  const bool is_zero = text.find_first_not_of("0.") == std::string::npos;
  return value < 0.0 && !is_zero ? "\u2212" + text : text;
}

int decimals_for(double standard_uncertainty) {
  if (!(standard_uncertainty > 0.0) || !std::isfinite(standard_uncertainty)) return 0;
  // 0.0996 to two digits is 0.10: round first, then count.
  const double power = std::floor(std::log10(standard_uncertainty * (1.0 + 0.5e-2)));
  return std::clamp(1 - static_cast<int>(power), 0, 6);
}

std::string with_uncertainty(double value, double standard_uncertainty, std::string_view unit) {
  std::string text;
  if (standard_uncertainty > 0.0 && std::isfinite(standard_uncertainty)) {
    const int decimals = decimals_for(standard_uncertainty);
    text = rounded(value, decimals) + " ± " + rounded(standard_uncertainty, decimals);
  } else {
    const double size = std::abs(value);
    const int decimals = size > 0.0 && std::isfinite(size)
                             ? std::clamp(2 - static_cast<int>(std::floor(std::log10(size))), 0, 6)
                             : 0;
    text = rounded(value, decimals);
  }
  const std::string shown = shown_unit(unit);
  return shown.empty() ? text : text + " " + shown;
}

std::string shown_unit(std::string_view unit) {
  if (unit == "1") return "";
  if (unit == "cm3") return "cm³";
  if (unit == "degC") return "°C";
  return std::string(unit);
}

std::string shown_gauge_pressure(double pressure_gauge_Pa) {
  return rounded(protocol::in_unit(pressure_gauge_Pa, "psi"), 1) + " psi (" +
         rounded(protocol::in_unit(pressure_gauge_Pa, "bar"), 2) + " bar)";
}

std::string shown_gauge_pressure(double pressure_gauge_Pa, double standard_uncertainty_Pa) {
  return rounded(protocol::in_unit(pressure_gauge_Pa, "psi"), 1) + " ± " +
         rounded(protocol::in_unit(standard_uncertainty_Pa, "psi"), 1) + " psi (" +
         rounded(protocol::in_unit(pressure_gauge_Pa, "bar"), 2) + " bar)";
}

std::string shown_setting(double pressure_gauge_Pa, int spacers) {
  if (pressure_gauge_Pa == 0.0 && spacers == 0) return "as built";
  return shown_gauge_pressure(pressure_gauge_Pa) + ", " + shown_spacers(spacers);
}

std::string shown_spacers(int spacers) {
  if (spacers == 0) return "no spacer";
  return fmt::format("{} spacer{}", spacers, spacers == 1 ? "" : "s");
}

}  // namespace fitting
