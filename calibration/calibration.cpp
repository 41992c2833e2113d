#include "calibration/calibration.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "calibration/performance/doubt.hpp"
#include "calibration/performance/travel_performance.hpp"

namespace calibration {

namespace {

// The lowest and the highest reading.
std::pair<double, double> reading_ends(const std::vector<Reading>& readings) {
  const auto [low, high] =
      std::minmax_element(readings.begin(), readings.end(),
                          [](const Reading& a, const Reading& b) { return a.reading < b.reading; });
  ENSURE(low != readings.end());
  return {low->reading, high->reading};
}

}  // namespace

double Calibration::coefficient_standard_uncertainty(int power) const {
  const auto i = static_cast<size_t>(power);
  return std::sqrt(covariance[i * coefficients.size() + i]);
}

double Calibration::beyond_range_uncertainty(double value) const {
  const double excess = std::max({0.0, value - range_high, range_low - value});
  return beyond_range_relative * excess;
}

Estimate Calibration::estimate(double reading) const {
  Estimate result;
  result.value = value(reading);
  result.beyond_range = std::max({0.0, result.value - range_high, range_low - result.value});
  result.standard_uncertainty = doubt_of_reading(*this, reading, std::nullopt);
  return result;
}

Estimate Calibration::estimate_from_zero(double reading, double zero_reading) const {
  Estimate result;
  result.value = value(reading) - value(zero_reading);
  result.beyond_range = std::max({0.0, result.value - range_high, range_low - result.value});
  result.standard_uncertainty = doubt_of_reading(*this, reading, zero_reading);
  return result;
}

double Calibration::mean_slope() const {
  const auto [low, high] = reading_ends(readings);
  return (value(high) - value(low)) / (high - low);
}

double Calibration::reading_on_chord(double wanted) const {
  const double low = reading_ends(readings).first;
  return low + (wanted - value(low)) / mean_slope();
}

protocol::Result<double> Calibration::reading_at(double wanted) const {
  // Newton from the chord of the readings behind the curve; a calibration is monotonic there.
  double reading = reading_on_chord(wanted);
  const auto [low, high] = reading_ends(readings);
  const double span = high - low;
  constexpr int kStepsMax = 50;
  for (int i = 0; i < kStepsMax; ++i) {
    const double step = (wanted - value(reading)) / polynomial_slope(coefficients, reading);
    if (!std::isfinite(step)) break;
    reading += step;
    if (std::abs(step) <= 1e-12 * span) return reading;
  }
  return protocol::Error{
      protocol::Errc::calibration_unusable,
      fmt::format("the curve of calibration {} does not reach {} {}; it was made from {} to {}.",
                  id.substr(0, 12), wanted, value_unit(kind), range_low, range_high)};
}

protocol::AppliedCalibration Calibration::applied() const {
  protocol::AppliedCalibration applied;
  applied.id = id;
  applied.coefficients = coefficients;
  applied.covariance = covariance;
  applied.range_low = range_low;
  applied.range_high = range_high;
  applied.valid_until = particulars.valid_until;
  if (kind == Kind::travel) applied.backlash = travel_performance(*this).lost_motion;
  return applied;
}

bool Calibration::is_expired(std::string_view today) const {
  // ISO 8601 dates sort as text.
  return !particulars.valid_until.empty() && today > particulars.valid_until;
}

}  // namespace calibration
