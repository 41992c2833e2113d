#include "calibration/performance/end_points.hpp"

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

}  // namespace calibration
