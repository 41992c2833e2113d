#include "calibration/performance/lower_limit.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/repeats.hpp"
#include "calibration/statistics.hpp"

namespace calibration {
namespace {

constexpr double kFactor = 2.4;             // about 99 % of readings
constexpr double kClassAFactors = 400.0;    // 0.25 %
constexpr double kClassAaFactors = 2000.0;  // 0.05 %

// What the unloaded cell reads: as read, else where the curve is zero.
double zero_reading(const Calibration& calibration, double full_scale_N) {
  std::vector<double> zeros;
  for (const Reading& reading : calibration.readings) {
    if (std::abs(reading.reference) <= kSameLoadRelative * full_scale_N) {
      zeros.push_back(reading.reading);
    }
  }
  if (!zeros.empty()) return mean_of(zeros);
  const protocol::Result<double> zero = calibration.reading_at(0.0);
  return zero ? *zero : 0.0;
}

}  // namespace

LowerLimit lower_limit(const Calibration& calibration) {
  ENSURE(calibration.kind == Kind::force && !calibration.readings.empty());
  std::vector<double> loads;
  std::vector<double> deflections;
  double full_scale_N = 0.0;
  for (const Reading& reading : calibration.readings) {
    full_scale_N = std::max(full_scale_N, std::abs(reading.reference));
  }
  const double zero = zero_reading(calibration, full_scale_N);
  double smallest_N = full_scale_N;
  std::vector<double> at_full_scale;
  for (const Reading& reading : calibration.readings) {
    const double load_N = std::abs(reading.reference);
    // Deflections count from the zero, which is therefore no point of the curve.
    if (load_N <= kSameLoadRelative * full_scale_N) continue;
    loads.push_back(reading.reference);
    deflections.push_back(reading.reading - zero);
    smallest_N = std::min(smallest_N, load_N);
    if (load_N >= (1.0 - kSameLoadRelative) * full_scale_N) {
      at_full_scale.push_back((reading.reading - zero) / reading.reference);
    }
  }
  // Without the zero there may be too few loads for a fit of its own; then the curve's residuals,
  // which hold the same scatter, stand for it.
  const protocol::Result<PolynomialFit> fit =
      fit_polynomial(loads, deflections, calibration.degree(), calibration.through_origin);
  const double force_per_reading_N = 1.0 / std::abs(mean_of(at_full_scale));
  LowerLimit limit;
  limit.standard_deviation_N = fit ? fit->residual_standard_deviation * force_per_reading_N
                                   : calibration.quality.residual_standard_deviation;
  limit.lower_limit_factor_N =
      std::max(kFactor * limit.standard_deviation_N, calibration.resolution * force_per_reading_N);
  limit.class_a_from_N = std::max(kClassAFactors * limit.lower_limit_factor_N, smallest_N);
  limit.class_aa_from_N = std::max(kClassAaFactors * limit.lower_limit_factor_N, smallest_N);
  return limit;
}

}  // namespace calibration
