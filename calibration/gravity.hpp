// Local gravity, for weights in kilograms: it differs by 0.5 % from the equator to the poles.
//
// Somigliana's formula on the WGS84 ellipsoid, then the second-order free-air reduction. Right to
// about 1e-4 m/s2 (10 ppm) where the rock below is ordinary.
#pragma once

namespace calibration {

// Latitude in radians, north or south; altitude above the ellipsoid (sea level will do).
double local_gravity_m_s2(double latitude_rad, double altitude_m);

}  // namespace calibration
