#include "fitting/curve/dwells.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace fitting {
namespace {

constexpr double kWindow_s = 0.5;
constexpr double kRestShare = 0.1;   // of the stroke's speed
constexpr double kUsualSpeed = 0.9;  // quantile: most of a staircase's time is spent at rest

// Speed along the stroke over a window that begins at each row, or ends there.
std::vector<double> window_speeds(const protocol::SweepRecord& record, const Stroke& stroke,
                                  bool ahead) {
  const std::size_t first = stroke.first_row;
  const std::size_t end = stroke.moving_end;
  std::vector<double> out(end - first, 0.0);
  std::size_t other = first;
  for (std::size_t row = first; row < end; ++row) {
    if (ahead) {
      other = std::max(other, row);
      while (other + 1 < end && record.time_s[other] < record.time_s[row] + kWindow_s) ++other;
    } else {
      while (other + 1 < row && record.time_s[other + 1] <= record.time_s[row] - kWindow_s) ++other;
    }
    const double span_s = std::abs(record.time_s[other] - record.time_s[row]);
    // A window cut short by the stroke's end says nothing.
    out[row - first] = span_s < 0.5 * kWindow_s
                           ? std::numeric_limits<double>::infinity()
                           : std::abs(record.travel_m[other] - record.travel_m[row]) / span_s;
  }
  return out;
}

}  // namespace

StrokeMotion motion_of(const protocol::SweepRecord& record, const Stroke& stroke) {
  StrokeMotion out;
  if (stroke.moving_end <= stroke.first_row) return out;
  out.resting.assign(stroke.moving_end - stroke.first_row, false);
  if (!record.has_time()) return out;
  const std::vector<double> ahead = window_speeds(record, stroke, true);
  const std::vector<double> behind = window_speeds(record, stroke, false);
  std::vector<double> sorted;
  for (double speed : ahead) {
    if (std::isfinite(speed)) sorted.push_back(speed);
  }
  if (sorted.empty()) return out;
  const auto usual = sorted.begin() + static_cast<std::ptrdiff_t>(
                                          kUsualSpeed * static_cast<double>(sorted.size() - 1));
  std::nth_element(sorted.begin(), usual, sorted.end());
  out.speed_m_s = *usual;
  for (std::size_t i = 0; i < out.resting.size(); ++i) {
    out.resting[i] = std::min(ahead[i], behind[i]) < kRestShare * out.speed_m_s;
  }
  return out;
}

}  // namespace fitting
