// Density of moist air, for the buoyancy of weights.
#pragma once

namespace calibration {

// The simplified formula of OIML R 111-1, E.3: within 2e-4 of the full one for 900 to 1100 hPa, 10
// to 30 degC and up to 80 % humidity, within 1e-3 in any room and on any mountain. Buoyancy
// is 1.5e-4 of a weight, so that even the latter leaves 0.2 parts in a million. humidity: relative,
// 0 to 1.
double air_density_kg_m3(double temperature_K, double pressure_Pa, double humidity);

}  // namespace calibration
