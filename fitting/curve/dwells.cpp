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

// A quantile does not ask for more.
constexpr std::size_t kWindowsAsked = 200;

}  // namespace

double moving_speed_m_s(const protocol::SweepRecord& record, const Stroke& stroke) {
  if (!record.has_time() || stroke.moving_end <= stroke.first_row) return 0.0;
  const auto time = record.time_s.begin();
  const auto end = time + static_cast<std::ptrdiff_t>(stroke.moving_end);
  const std::size_t stride = 1 + (stroke.moving_end - stroke.first_row) / kWindowsAsked;
  std::vector<double> speeds;
  for (std::size_t row = stroke.first_row; row < stroke.moving_end; row += stride) {
    const auto from = time + static_cast<std::ptrdiff_t>(row);
    const auto to = std::lower_bound(from, end, *from + kWindow_s);
    if (to == end) break;  // a window cut short by the stroke's end says nothing
    const auto other = static_cast<std::size_t>(to - time);
    speeds.push_back(std::abs(record.travel_m[other] - record.travel_m[row]) / (*to - *from));
  }
  if (speeds.empty()) {
    const std::size_t last = stroke.moving_end - 1;
    const double span_s = record.time_s[last] - record.time_s[stroke.first_row];
    const double way_m = std::abs(record.travel_m[last] - record.travel_m[stroke.first_row]);
    return span_s > 0.0 ? way_m / span_s : 0.0;
  }
  const auto usual = speeds.begin() + static_cast<std::ptrdiff_t>(
                                          kUsualSpeed * static_cast<double>(speeds.size() - 1));
  std::nth_element(speeds.begin(), usual, speeds.end());
  return *usual;
}

StrokeMotion motion_of(const protocol::SweepRecord& record, const Stroke& stroke) {
  StrokeMotion out;
  if (stroke.moving_end <= stroke.first_row) return out;
  out.resting.assign(stroke.moving_end - stroke.first_row, false);
  out.speed_m_s = moving_speed_m_s(record, stroke);
  if (out.speed_m_s <= 0.0) return out;
  const std::vector<double> ahead = window_speeds(record, stroke, true);
  const std::vector<double> behind = window_speeds(record, stroke, false);
  for (std::size_t i = 0; i < out.resting.size(); ++i) {
    out.resting[i] = std::min(ahead[i], behind[i]) < kRestShare * out.speed_m_s;
  }
  return out;
}

}  // namespace fitting
