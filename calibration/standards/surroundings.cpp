#include "calibration/standards/surroundings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numbers>

#include "calibration/gravity.hpp"
#include "calibration/standards/air_density.hpp"

namespace calibration {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

constexpr double kAssumedTemperature_K = 293.15;
constexpr double kAssumedHumidity = 0.5;
constexpr double kRadToDeg = 180.0 / std::numbers::pi;

Result<void> check_between(std::optional<double> value, double low, double high, double per_unit,
                           const char* what, const char* unit) {
  if (!value || (*value >= low && *value <= high)) return {};
  return Error{Errc::input_out_of_range,
               fmt::format("{} {:.6g} {} must lie from {:.6g} to {:.6g} {}.", what,
                           *value * per_unit, unit, low * per_unit, high * per_unit, unit)};
}

Result<void> check(const Surroundings& place) {
  constexpr double kRightAngle_rad = std::numbers::pi / 2.0;
  const Result<void> checks[] = {
      check_between(place.latitude_rad, -kRightAngle_rad, kRightAngle_rad, kRadToDeg,
                    "the latitude", "deg"),
      check_between(place.altitude_m, -500.0, 6000.0, 1.0, "the altitude", "m"),
      check_between(place.air_temperature_K, 250.0, 330.0, 1.0, "the air's temperature", "K"),
      check_between(place.air_pressure_Pa, 4e4, 1.1e5, 1e-3, "the air's absolute pressure", "kPa"),
      check_between(place.air_humidity, 0.0, 1.0, 100.0, "the air's humidity", "%"),
  };
  for (const Result<void>& checked : checks) {
    if (!checked) return checked.error();
  }
  return {};
}

void settle_gravity(ReadingSet& set) {
  const Surroundings& place = set.surroundings;
  if (set.conditions.gravity_m_s2 || !place.latitude_rad) return;
  const double altitude_m = place.altitude_m.value_or(0.0);
  const double gravity_m_s2 = local_gravity_m_s2(*place.latitude_rad, altitude_m);
  set.conditions.gravity_m_s2 = gravity_m_s2;
  set.remarks.push_back(fmt::format(
      "Gravity {:.5f} m/s2 was worked out from latitude {:.4g} deg and altitude {:.4g} m{}.",
      gravity_m_s2, *place.latitude_rad * kRadToDeg, altitude_m,
      place.altitude_m ? "" : " (not given)"));
}

void settle_air(ReadingSet& set) {
  const Surroundings& place = set.surroundings;
  const bool is_known = place.air_temperature_K || place.air_pressure_Pa || place.air_humidity ||
                        place.altitude_m || set.particulars.temperature_K;
  if (set.conditions.air_density_kg_m3 || !is_known) return;
  const std::optional<double> said_K =
      place.air_temperature_K ? place.air_temperature_K : set.particulars.temperature_K;
  const double temperature_K = said_K.value_or(kAssumedTemperature_K);
  const double pressure_Pa = place.air_pressure_Pa.value_or(
      protocol::standard_atmosphere_Pa(place.altitude_m.value_or(0.0)));
  const double humidity = place.air_humidity.value_or(kAssumedHumidity);
  const double density_kg_m3 = air_density_kg_m3(temperature_K, pressure_Pa, humidity);
  set.conditions.air_density_kg_m3 = density_kg_m3;
  const char* of_pressure = place.air_pressure_Pa ? ""
                            : place.altitude_m    ? " (from the altitude)"
                                                  : " (assumed)";
  set.remarks.push_back(fmt::format(
      "Air density {:.4f} kg/m3 was worked out from {:.4g} degC{}, {:.5g} hPa{} and {:.3g} % "
      "humidity{}.",
      density_kg_m3, temperature_K - protocol::kZeroCelsius_K, said_K ? "" : " (assumed)",
      pressure_Pa / 100.0, of_pressure, 100.0 * humidity, place.air_humidity ? "" : " (assumed)"));
}

}  // namespace

Result<void> settle_conditions(ReadingSet& set) {
  const bool is_weighed = has_weights(set.readings) || (set.creep && set.creep->load_kg);
  if (!is_weighed) return {};
  if (const Result<void> checked = check(set.surroundings); !checked) return checked.error();
  settle_gravity(set);
  settle_air(set);
  return {};
}

}  // namespace calibration
