#include "calibration/instrument.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calibration/performance/doubt.hpp"

namespace calibration {
namespace {

// Of the rise of the curve from the bottom of its range to the top, or to the largest force where
// that lies beyond: the slope's for a straight line, and what a bend may grow to for a curve.
double gain_relative(const Calibration& force, std::optional<double> largest_force_N) {
  const double top_N = std::max(force.range_high, largest_force_N.value_or(force.range_high));
  const protocol::Result<double> low = force.reading_at(force.range_low);
  protocol::Result<double> high = force.reading_at(top_N);
  // A curve that turns back before it gets there is known no better than where it ends.
  if (!high) high = force.reading_at(force.range_high);
  double fit = 0.0;
  if (low && high) {
    fit = std::sqrt(polynomial_difference_variance(force.covariance, *high, *low)) /
          std::abs(force.value(*high) - force.value(*low));
  }
  const double beyond =
      largest_force_N ? force.beyond_range_uncertainty(*largest_force_N) / *largest_force_N : 0.0;
  return std::hypot(fit, proportional_doubt_relative(force), beyond);
}

// Of one new reading of the unloaded cell.
double zero_N(const Calibration& force) {
  const double s = force.quality.residual_standard_deviation;
  const protocol::Result<double> zero = force.reading_at(0.0);
  // A curve that never reaches zero says nothing better than its constant does.
  return std::sqrt(polynomial_variance(force.covariance, zero ? *zero : 0.0) + s * s);
}

}  // namespace

double apply(const protocol::AppliedCalibration& curve, double reading) {
  return polynomial_value(curve.coefficients, reading);
}

double apply_force(const protocol::AppliedCalibration& force, double counts,
                   std::optional<double> zero_counts) {
  return apply(force, counts) - (zero_counts ? apply(force, *zero_counts) : 0.0);
}

double apply_travel(const protocol::AppliedCalibration& travel,
                    const std::optional<protocol::AppliedCalibration>& frame, double steps,
                    double zero_steps, double force_N) {
  const double moved_m = apply(travel, steps) - apply(travel, zero_steps);
  return frame ? moved_m - apply(*frame, force_N) : moved_m;
}

protocol::InstrumentDoubt instrument_doubt(const Calibration* force, const Calibration* travel,
                                           const protocol::InstrumentDoubt& assumed,
                                           std::optional<double> largest_force_N) {
  protocol::InstrumentDoubt doubt = assumed;
  if (force != nullptr) {
    ENSURE(force->kind == Kind::force);
    doubt.gain_relative = gain_relative(*force, largest_force_N);
    doubt.zero_N = zero_N(*force);
    doubt.calibrated = true;
  }
  if (travel != nullptr) {
    ENSURE(travel->kind == Kind::travel);
    doubt.travel_zero_m =
        std::hypot(assumed.travel_zero_m, travel->quality.residual_standard_deviation);
  }
  return doubt;
}

std::optional<std::string> beyond_range_remark(const Calibration& force, double largest_force_N) {
  const double widening_N = force.beyond_range_uncertainty(largest_force_N);
  if (!(widening_N > 0.0)) return std::nullopt;
  return fmt::format(
      "Forces up to {:.0f} N lie beyond the calibrated range of {:.0f} to {:.0f} N; there the "
      "standard uncertainty grows by {:.2g} % of the excess, a prior for the cell's non-linearity "
      "({:.1f} N at most).",
      largest_force_N, force.range_low, force.range_high, 100.0 * force.beyond_range_relative,
      widening_N);
}

double drift_doubt_N(double drift_N) {
  return std::abs(drift_N) / std::sqrt(3.0);
}

}  // namespace calibration
