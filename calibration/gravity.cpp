#include "calibration/gravity.hpp"

#include <cmath>

namespace calibration {

double local_gravity_m_s2(double latitude_rad, double altitude_m) {
  // See [WGS84].
  constexpr double kEquator_m_s2 = 9.7803253359;
  constexpr double kSomigliana = 0.00193185265241;
  constexpr double kEccentricitySquared = 0.00669437999014;
  constexpr double kSemiMajorAxis_m = 6378137.0;
  constexpr double kFlattening = 1.0 / 298.257223563;
  constexpr double kCentrifugalRatio = 0.00344978650684;
  const double s2 = std::pow(std::sin(latitude_rad), 2);
  const double at_ellipsoid_m_s2 =
      kEquator_m_s2 * (1.0 + kSomigliana * s2) / std::sqrt(1.0 - kEccentricitySquared * s2);
  const double h = altitude_m / kSemiMajorAxis_m;
  return at_ellipsoid_m_s2 *
         (1.0 - 2.0 * h * (1.0 + kFlattening + kCentrifugalRatio - 2.0 * kFlattening * s2) +
          3.0 * h * h);
}

}  // namespace calibration
