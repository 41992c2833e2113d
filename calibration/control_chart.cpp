#include "calibration/control_chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace calibration {
namespace {

bool belongs(const ControlPoint& point, const ControlPoint& newest) {
  return point.cell_id == newest.cell_id && point.certificate_id == newest.certificate_id &&
         std::abs(point.load_N - newest.load_N) <= kSameWeightRelative * std::abs(newest.load_N);
}

// The last run of them, the one at `index` included, lies on one side of the centre.
bool ends_one_sided_run(std::span<const ControlPoint> points, std::size_t index, double centre) {
  if (index + 1 < kControlRunLength) return false;
  const auto run = points.subspan(index + 1 - kControlRunLength, kControlRunLength);
  const auto is_above = [&](const ControlPoint& point) { return point.difference_N() > centre; };
  const auto is_below = [&](const ControlPoint& point) { return point.difference_N() < centre; };
  return std::all_of(run.begin(), run.end(), is_above) ||
         std::all_of(run.begin(), run.end(), is_below);
}

ControlSignal judge(const ControlChart& chart, std::size_t index) {
  const ControlPoint& point = chart.points[index];
  if (!point.is_within()) return ControlSignal::beyond_certificate;
  if (!chart.limits) return ControlSignal::none;
  if (!chart.limits->hold(point.difference_N())) return ControlSignal::beyond_limits;
  return ends_one_sided_run(chart.points, index, chart.limits->centre) ? ControlSignal::one_side
                                                                       : ControlSignal::none;
}

}  // namespace

bool ControlPoint::is_within() const {
  return std::abs(difference_N()) <= expanded_uncertainty_N;
}

std::optional<ControlLimits> individuals_limits(std::span<const double> values,
                                                double least_half_width) {
  if (values.size() < 2) return std::nullopt;
  double sum = values[0];
  double ranges = 0.0;
  for (std::size_t i = 1; i < values.size(); ++i) {
    sum += values[i];
    ranges += std::abs(values[i] - values[i - 1]);
  }
  const double mean_range = ranges / static_cast<double>(values.size() - 1);
  const double half_width =
      std::max(kControlSigmas * mean_range / kMovingRangeDivisor, least_half_width);
  ControlLimits limits;
  limits.centre = sum / static_cast<double>(values.size());
  limits.lower = limits.centre - half_width;
  limits.upper = limits.centre + half_width;
  limits.points = values.size();
  return limits;
}

ControlChart make_control_chart(std::span<const ControlPoint> kept, double least_half_width_N) {
  ControlChart chart;
  if (kept.empty()) return chart;
  const ControlPoint& newest = kept.back();
  std::vector<double> base_line;
  for (const ControlPoint& point : kept) {
    if (!belongs(point, newest)) continue;
    chart.points.push_back(point);
    // What is judged now does not set the limits that it is judged by.
    if (&point != &newest && point.is_within() && base_line.size() < kControlBaseLineMax) {
      base_line.push_back(point.difference_N());
    }
  }
  chart.certificate_half_width_N = newest.expanded_uncertainty_N;
  if (base_line.size() >= kControlPointsMin) {
    chart.limits = individuals_limits(base_line, least_half_width_N);
  }
  for (std::size_t i = 0; i < chart.points.size(); ++i) chart.signals.push_back(judge(chart, i));
  return chart;
}

std::string signal_sentence(const ControlChart& chart) {
  if (chart.points.empty()) return {};
  const double difference_N = chart.points.back().difference_N();
  switch (chart.newest()) {
    case ControlSignal::none:
      return {};
    case ControlSignal::beyond_certificate:
      return fmt::format(
          "the difference of {:+.2f} N is more than the {:.2f} N that the certificate allows "
          "(95 %); look at zero, mounting and wiring, check once more, then calibrate again",
          difference_N, chart.certificate_half_width_N);
    case ControlSignal::beyond_limits:
      return fmt::format(
          "the difference of {:+.2f} N lies outside the control limits of {:+.2f} to {:+.2f} N "
          "that {} checks set; the certificate would allow it, but the cell has changed: look at "
          "zero, mounting and wiring, check once more, then calibrate again",
          difference_N, chart.limits->lower, chart.limits->upper, chart.limits->points);
    case ControlSignal::one_side:
      return fmt::format(
          "the last {} checks all lie on one side of the centre of {:+.2f} N: the cell drifts, "
          "though within its limits; plan a calibration",
          kControlRunLength, chart.limits->centre);
  }
  return {};
}

}  // namespace calibration
