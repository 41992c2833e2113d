#include "calibration/performance/end_points.hpp"

#include <cmath>

#include "protocol/error.hpp"

namespace calibration {

std::vector<double> end_point_deviations(std::span<const double> readings,
                                         std::span<const double> values) {
  ENSURE(readings.size() == values.size() && readings.size() >= 2);
  ENSURE(readings.front() != readings.back());
  const double slope = (values.back() - values.front()) / (readings.back() - readings.front());
  std::vector<double> deviations;
  for (size_t i = 0; i < readings.size(); ++i) {
    deviations.push_back(values.front() + slope * (readings[i] - readings.front()) - values[i]);
  }
  return deviations;
}

double largest_by_magnitude(std::span<const double> values) {
  double largest = 0.0;
  for (const double value : values) {
    if (std::abs(value) > std::abs(largest)) largest = value;
  }
  return largest;
}

double mean_of(std::span<const double> values) {
  ENSURE(!values.empty());
  // From the first value: the sum then holds what differs, not what is common to all.
  double sum = 0.0;
  for (const double value : values) sum += value - values.front();
  return values.front() + sum / static_cast<double>(values.size());
}

double standard_deviation_of(std::span<const double> values) {
  ENSURE(values.size() >= 2);
  const double mean = mean_of(values);
  double squares = 0.0;
  for (const double value : values) squares += (value - mean) * (value - mean);
  return std::sqrt(squares / static_cast<double>(values.size() - 1));
}

}  // namespace calibration
