#include "calibration/statistics.hpp"

#include <cmath>

#include "protocol/error.hpp"

namespace calibration {

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
