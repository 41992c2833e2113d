// Numbers as people read them: rounded to their doubt, with their unit, with a true minus sign.
#pragma once

#include <string>
#include <string_view>

namespace fitting {

// "-3.20" with U+2212 for the sign; never "-0.0"; "–" for what is no number.
std::string rounded(double value, int decimals);

// Decimals that show an uncertainty to two significant digits, 0 to 6.
int decimals_for(double standard_uncertainty);

// "205.3 ± 1.2 cm³": both rounded to two significant digits of the uncertainty. Without one
// (zero or no number) the value stands alone with three significant digits.
std::string with_uncertainty(double value, double standard_uncertainty, std::string_view unit);

// cm3 -> cm³, degC -> °C, 1 -> nothing; others as they are.
std::string shown_unit(std::string_view unit);

// "81.0 psi (5.58 bar)", gauge.
std::string shown_gauge_pressure(double pressure_gauge_Pa);

// "81.0 ± 1.1 psi (5.58 bar)", gauge.
std::string shown_gauge_pressure(double pressure_gauge_Pa, double standard_uncertainty_Pa);

// "1 spacer", "3 spacers", "no spacer".
std::string shown_spacers(int spacers);
// Both; of a coil, which has neither, "as built".
std::string shown_setting(double pressure_gauge_Pa, int spacers);

}  // namespace fitting
