#include "fitting/curve/loop.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "fitting/curve/branch.hpp"

namespace fitting {
namespace {

constexpr double kShortStrokeShare = 0.5;   // of the longest: shorter ones are not averaged
constexpr double kThermalTimes = 3.0;       // from a turn, until the gas has forgotten it
constexpr double kContactForceMin_N = 3.0;  // below this a pushing rig has lost the fork
constexpr double kContactZeroFactor = 3.0;  // the same in standard uncertainties of the zero
constexpr double kScatterLengthDefault_m = 0.020;

// The strokes of one direction that show the steady loop.
std::vector<Stroke> steady_strokes(const std::vector<Stroke>& strokes, int direction,
                                   bool conditioning) {
  double longest_m = 0.0;
  for (const Stroke& stroke : strokes) {
    if (stroke.direction == direction) longest_m = std::max(longest_m, stroke.length_m());
  }
  std::vector<Stroke> steady;
  const auto collect = [&](bool partial) {
    for (const Stroke& stroke : strokes) {
      if (stroke.direction == direction && stroke.conditioning == conditioning &&
          !stroke.other_speed && stroke.partial == partial &&
          stroke.length_m() >= kShortStrokeShare * longest_m) {
        steady.push_back(stroke);
      }
    }
  };
  collect(false);
  if (steady.empty()) collect(true);
  return steady;
}

std::vector<Stroke> strokes_to_average(Loop& loop, int direction) {
  std::vector<Stroke> steady = steady_strokes(loop.strokes, direction, false);
  const auto others = std::count_if(
      loop.strokes.begin(), loop.strokes.end(),
      [&](const Stroke& stroke) { return stroke.direction == direction && stroke.other_speed; });
  if (others > 0) {
    loop.remarks.push_back(fmt::format(
        "{} stroke{} in {} ran at another speed and {} left out", others, others == 1 ? "" : "s",
        direction > 0 ? "compression" : "rebound", others == 1 ? "was" : "were"));
  }
  if (!steady.empty()) return steady;
  steady = steady_strokes(loop.strokes, direction, true);
  if (steady.empty()) return steady;
  loop.remarks.push_back(fmt::format(
      "no measuring stroke in {}: the last conditioning stroke stands in, which may not have "
      "settled",
      direction > 0 ? "compression" : "rebound"));
  return {steady.back()};
}

Grid grid_for(const protocol::SweepRecord& record, double shift_m, double step_m) {
  const auto [low, high] = std::minmax_element(record.travel_m.begin(), record.travel_m.end());
  Grid grid;
  grid.step_m = step_m;
  // Half a cell of slack: whether a stroke really reaches a point is judged when it is sampled.
  grid.first_index = std::lround(std::floor(*low / step_m));
  const long last = std::lround(std::ceil((*high + std::max(0.0, shift_m)) / step_m));
  grid.size = static_cast<std::size_t>(last - grid.first_index + 1);
  return grid;
}

double speed_of(const protocol::SweepRecord& record, const std::vector<Stroke>& strokes) {
  if (record.metadata.speed_m_s) return *record.metadata.speed_m_s;
  if (!record.has_time()) return 0.0;
  double path_m = 0.0;
  double time_s = 0.0;
  for (const Stroke& stroke : strokes) {
    if (stroke.moving_end <= stroke.first_row + 1) continue;
    path_m += std::abs(record.travel_m[stroke.moving_end - 1] - record.travel_m[stroke.first_row]);
    time_s += record.time_s[stroke.moving_end - 1] - record.time_s[stroke.first_row];
  }
  return time_s > 0.0 ? path_m / time_s : 0.0;
}

Averaged averaged_branch(const protocol::SweepRecord& record, const std::vector<Stroke>& strokes,
                         double shift_m, const Grid& grid) {
  std::vector<SampledStroke> sampled;
  sampled.reserve(strokes.size());
  for (const Stroke& stroke : strokes) {
    sampled.push_back(sample_stroke(record, stroke, shift_m, grid));
  }
  return average_strokes(sampled, grid);
}

// A force near zero on a rig that only pushes is the load cell alone, not the fork.
void leave_out_lost_contact(const protocol::SweepRecord& record, Loop& loop) {
  if (record.metadata.setting.coupling != protocol::Coupling::push) return;
  const double threshold_N =
      std::max(kContactForceMin_N, kContactZeroFactor * record.metadata.doubt.zero_N);
  double furthest_m = kNotMeasured;
  for (std::size_t i = 0; i < loop.travel_m.size(); ++i) {
    for (Branch* branch : {&loop.compression, &loop.rebound}) {
      if (!branch->covers(i) || std::abs(branch->force_N[i]) >= threshold_N) continue;
      branch->force_N[i] = kNotMeasured;
      loop.contact_lost[i] = true;
      furthest_m = loop.travel_m[i];
    }
  }
  if (std::isnan(furthest_m)) return;
  loop.remarks.push_back(fmt::format(
      "the rig only pushes and the force fell below {:.1f} N up to {:.1f} mm of travel: contact "
      "was lost there, and those points are left out",
      threshold_N, furthest_m * 1e3));
}

void mark_speed_dependence(Loop& loop, const LoopOptions& options) {
  if (!options.thermal_time_s || loop.speed_m_s <= 0.0) return;
  const double reach_m = kThermalTimes * loop.speed_m_s * *options.thermal_time_s;
  double low_m = loop.travel_m.back();
  double high_m = loop.travel_m.front();
  for (std::size_t i = 0; i < loop.travel_m.size(); ++i) {
    if (!loop.compression.covers(i) && !loop.rebound.covers(i)) continue;
    low_m = std::min(low_m, loop.travel_m[i]);
    high_m = std::max(high_m, loop.travel_m[i]);
  }
  loop.speed_dependent.resize(loop.travel_m.size());
  for (std::size_t i = 0; i < loop.travel_m.size(); ++i) {
    loop.speed_dependent[i] =
        loop.travel_m[i] < low_m + reach_m || loop.travel_m[i] > high_m - reach_m;
  }
}

void combine_both(Loop& loop, std::size_t i) {
  const Branch& c = loop.compression;
  const Branch& r = loop.rebound;
  if (!c.covers(i) || !r.covers(i)) return;
  loop.valid[i] = true;
  loop.midline_N[i] = 0.5 * (c.force_N[i] + r.force_N[i]);
  loop.half_loop_N[i] = 0.5 * (c.force_N[i] - r.force_N[i]);
  loop.midline_noise_N[i] = 0.5 * std::hypot(c.noise_N[i], r.noise_N[i]);
  // What drifts from cycle to cycle drifts alike in both strokes, so it is not averaged down.
  loop.midline_scatter_N[i] = 0.5 * (c.scatter_N[i] + r.scatter_N[i]);
  loop.half_loop_standard_uncertainty_N[i] =
      0.5 * std::hypot(std::hypot(c.noise_N[i], r.noise_N[i]),
                       std::hypot(c.scatter_N[i], r.scatter_N[i]));
}

void combine_single(Loop& loop, std::size_t i) {
  const Branch& only = loop.compression.strokes > 0 ? loop.compression : loop.rebound;
  if (!only.covers(i)) return;
  loop.valid[i] = true;
  loop.midline_N[i] = only.force_N[i];
  loop.midline_noise_N[i] = only.noise_N[i];
  loop.midline_scatter_N[i] = only.scatter_N[i];
}

// Slope of the midline about a grid point, over up to 2 mm on either side; 0 where it has none.
double midline_slope_N_m(const Loop& loop, std::size_t i) {
  const auto reach = static_cast<std::size_t>(std::lround(0.002 / loop.grid_step_m));
  std::size_t low = i;
  std::size_t high = i;
  while (low > 0 && i - low < reach && loop.valid[low - 1]) --low;
  while (high + 1 < loop.valid.size() && high - i < reach && loop.valid[high + 1]) ++high;
  if (low == high) return 0.0;
  return (loop.midline_N[high] - loop.midline_N[low]) / (loop.travel_m[high] - loop.travel_m[low]);
}

void combine_branches(Loop& loop, double backlash_doubt_m) {
  const std::size_t n = loop.travel_m.size();
  for (std::vector<double>* column :
       {&loop.midline_N, &loop.midline_standard_uncertainty_N, &loop.midline_noise_N,
        &loop.midline_scatter_N, &loop.midline_backlash_N, &loop.half_loop_N,
        &loop.half_loop_standard_uncertainty_N}) {
    column->assign(n, kNotMeasured);
  }
  loop.valid.assign(n, false);
  for (std::size_t i = 0; i < n; ++i) {
    loop.single_stroke ? combine_single(loop, i) : combine_both(loop, i);
  }
  for (std::size_t i = 0; i < n; ++i) {
    if (!loop.valid[i]) continue;
    // A rebound stroke shifted by b moves midline and half-loop by half the rise over b.
    loop.midline_backlash_N[i] =
        loop.single_stroke ? 0.0 : 0.5 * backlash_doubt_m * midline_slope_N_m(loop, i);
    loop.midline_standard_uncertainty_N[i] =
        std::hypot(loop.midline_noise_N[i], loop.midline_scatter_N[i], loop.midline_backlash_N[i]);
    loop.half_loop_standard_uncertainty_N[i] =
        std::hypot(loop.half_loop_standard_uncertainty_N[i], loop.midline_backlash_N[i]);
  }
}

void note_scatter(Loop& loop, const Averaged& compression, const Averaged& rebound) {
  const std::size_t points = compression.variance_points + rebound.variance_points;
  if (points > 0) {
    loop.repeatability_N = std::sqrt((compression.variance_sum_N2 + rebound.variance_sum_N2) /
                                     static_cast<double>(points));
  } else {
    loop.remarks.push_back(
        "one measured cycle only: how well cycles repeat is not known, and is not in the "
        "uncertainty");
  }
  const double length_m = std::max(compression.scatter_length_m, rebound.scatter_length_m);
  loop.scatter_length_m = length_m > 0.0 ? length_m : kScatterLengthDefault_m;
}

protocol::Backlash backlash_of(const protocol::SweepRecord& record, const LoopOptions& options) {
  if (options.backlash) return *options.backlash;
  const auto& travel = record.metadata.travel_calibration;
  return travel ? travel->backlash.value_or(protocol::Backlash{}) : protocol::Backlash{};
}

}  // namespace

protocol::Result<Loop> make_loop(const protocol::SweepRecord& record, const LoopOptions& options) {
  protocol::Result<std::vector<Stroke>> strokes = split_strokes(record);
  if (!strokes) return strokes.error();
  Loop loop;
  loop.grid_step_m = options.grid_step_m;
  loop.strokes = *std::move(strokes);
  loop.speed_m_s = speed_of(record, loop.strokes);
  const std::vector<Stroke> down = strokes_to_average(loop, +1);
  const std::vector<Stroke> up = strokes_to_average(loop, -1);
  loop.single_stroke = down.empty() || up.empty();
  const protocol::Backlash backlash = backlash_of(record, options);
  const double shift_m = backlash.value_m;
  const Grid grid = grid_for(record, shift_m, options.grid_step_m);
  for (std::size_t i = 0; i < grid.size; ++i) loop.travel_m.push_back(grid.travel_m(i));

  const Averaged compression = averaged_branch(record, down, 0.0, grid);
  const Averaged rebound = averaged_branch(record, up, shift_m, grid);
  loop.compression = compression.branch;
  loop.rebound = rebound.branch;
  loop.contact_lost.assign(grid.size, false);
  leave_out_lost_contact(record, loop);
  mark_speed_dependence(loop, options);
  combine_branches(loop, backlash.standard_uncertainty_m);
  note_scatter(loop, compression, rebound);
  if (loop.single_stroke) {
    loop.remarks.push_back(
        "one stroke only: the curve is that stroke with its friction in it; there is no half-loop "
        "and friction is not determined");
  }
  if (std::none_of(loop.valid.begin(), loop.valid.end(), [](bool v) { return v; })) {
    return protocol::Error{
        protocol::Errc::record_unusable,
        fmt::format("the strokes of record '{}' have no travel in common on a grid of {:.2f} mm; "
                    "sweep further, or import with more rows",
                    record.metadata.record_id, options.grid_step_m * 1e3)};
  }
  return loop;
}

}  // namespace fitting
