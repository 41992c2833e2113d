#include "calibration/standards/air_density.hpp"

#include <cmath>

#include "protocol/units.hpp"

namespace calibration {

double air_density_kg_m3(double temperature_K, double pressure_Pa, double humidity) {
  // See [OIML-R111]; the formula takes hPa, degC and percent.
  const double temperature_C = temperature_K - protocol::kZeroCelsius_K;
  const double pressure_hPa = pressure_Pa / 100.0;
  const double humidity_percent = 100.0 * humidity;
  return (0.34848 * pressure_hPa - 0.009 * humidity_percent * std::exp(0.061 * temperature_C)) /
         temperature_K;
}

}  // namespace calibration
