// Units at the boundary: "81 psi" in, SI inside.
//
// Conventions of the whole project. Compression is positive. Travel 0 is full extension (mechanical
// top-out). Force is what the load cell feels. Inside, everything is SI and the unit stands in the
// name (travel_m, force_N, pressure_Pa). A pressure is absolute unless its name says gauge.
//
// Conversion factors live here and nowhere else; all are exact by definition [UCUM].
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "protocol/result.hpp"

namespace protocol {

enum class Dimension {
  length,
  force,
  pressure,
  volume,
  temperature,
  time,
  speed,
  rate,  // force per length
  mass,
  angle,
  fraction,  // "20 %"
};

inline constexpr double kStandardGravity_m_s2 = 9.80665;
inline constexpr double kStandardAtmosphere_Pa = 101325.0;
inline constexpr double kZeroCelsius_K = 273.15;

// A value in SI with the tolerance that stood behind "+/-", if any: "230 cm3 +/- 3 cm3".
struct Toleranced {
  double value = 0.0;
  std::optional<double> tolerance;
};

// Reads "12.5 mm" into SI (here 0.0125). The number always has a decimal point, whatever the
// locale. Temperatures come out in kelvin, angles in radians, fractions as 0.2 for "20 %". ERRORS:
// unit_unknown (with the list of units), unit_wrong_dimension, input_malformed.
Result<double> parse_quantity(std::string_view text, Dimension dimension);

// The same with an optional "+/- X UNIT" (or "±") behind it; a temperature's tolerance is a
// difference.
Result<Toleranced> parse_toleranced(std::string_view text, Dimension dimension);

// The dimension and factor of one unit by its name: value_SI = number * factor + offset.
struct Unit {
  std::string_view name;
  Dimension dimension;
  double factor;
  double offset = 0.0;
};
std::optional<Unit> find_unit(std::string_view name);

// "mm, cm, m, in", for messages.
std::string unit_list(Dimension dimension);
std::string_view dimension_name(Dimension dimension);

// Number of the stated unit that the SI value is: in_unit(0.0125, "mm") is 12.5. REQUIRES: a known
// unit.
double in_unit(double value_si, std::string_view unit);
// SI value of a number in the stated unit. REQUIRES: a known unit.
double from_unit(double number, std::string_view unit);

// The shortest decimal text that reads back to the same double, independent of the locale.
std::string number_text(double value);

// Without the blanks and tabs at both ends.
std::string_view trimmed(std::string_view text);

// Reads a plain decimal number that fills the whole text. ERRORS: input_malformed.
Result<double> parse_number(std::string_view text);

// Pressure of the standard atmosphere [ISO 2533] at a geopotential altitude of -1000 to 11000 m.
double standard_atmosphere_Pa(double altitude_m);

}  // namespace protocol
