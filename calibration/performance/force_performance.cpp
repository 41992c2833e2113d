#include "calibration/performance/force_performance.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "calibration/performance/creep.hpp"
#include "calibration/performance/end_points.hpp"
#include "calibration/repeats.hpp"
#include "calibration/statistics.hpp"

namespace calibration {
namespace {

// One reading as the bench would show it, beside its load.
struct Shown {
  double reference_N = 0.0;
  double force_N = 0.0;     // from the zero of its series, by the curve
  double deflection = 0.0;  // the same as a reading
};

// All that was read at one load, by series.
struct Load {
  double sum_N = 0.0;
  int count = 0;
  std::map<int, std::vector<Shown>> up;
  std::map<int, std::vector<Shown>> down;
  double load_N() const { return sum_N / count; }
};

struct Run {
  std::vector<Load> loads;  // ascending
  double full_scale_N = 0.0;
  double slope_N = 0.0;  // mean, per reading
  int series = 0;
  bool is_zero(const Load& load) const {
    return std::abs(load.load_N()) <= kSameLoadRelative * full_scale_N;
  }
};

// The reading that each series began with, where that was of the unloaded cell. Without one the
// curve's own zero serves.
std::map<int, double> zero_readings(const Calibration& calibration, double full_scale_N) {
  std::map<int, double> zeros;
  std::set<int> begun;
  for (const Reading& reading : calibration.readings) {
    if (!begun.insert(reading.series).second) continue;
    if (std::abs(reading.reference) <= kSameLoadRelative * full_scale_N) {
      zeros[reading.series] = reading.reading;
    }
  }
  return zeros;
}

Run run_of(const Calibration& calibration) {
  Run run;
  for (const Reading& reading : calibration.readings) {
    run.full_scale_N = std::max(run.full_scale_N, std::abs(reading.reference));
  }
  run.slope_N = calibration.mean_slope();
  const std::map<int, double> zeros = zero_readings(calibration, run.full_scale_N);
  const protocol::Result<double> curve_zero = calibration.reading_at(0.0);
  const Repeats repeats = find_repeats(calibration.readings);
  run.loads.resize(static_cast<size_t>(repeats.load_count));
  std::set<int> series;
  for (size_t i = 0; i < calibration.readings.size(); ++i) {
    const Reading& reading = calibration.readings[i];
    series.insert(reading.series);
    const auto own = zeros.find(reading.series);
    const double zero = own != zeros.end() ? own->second : curve_zero ? *curve_zero : 0.0;
    Shown shown;
    shown.reference_N = reading.reference;
    shown.force_N =
        calibration.value(reading.reading) - (own != zeros.end() ? calibration.value(zero) : 0.0);
    shown.deflection = reading.reading - zero;
    Load& load = run.loads[static_cast<size_t>(repeats.loads[i])];
    load.sum_N += reading.reference;
    ++load.count;
    auto& side = reading.direction == Direction::descending ? load.down : load.up;
    side[reading.series].push_back(shown);
  }
  run.series = static_cast<int>(series.size());
  return run;
}

using Side = std::map<int, std::vector<Shown>>;

// Of the deflections as force by the mean slope, about their own loads, so that loads that differ a
// little can be averaged.
double mean_excess_N(const Side& side, double slope_N) {
  std::vector<double> values;
  for (const auto& [series, readings] : side) {
    for (const Shown& shown : readings) {
      values.push_back(slope_N * shown.deflection - shown.reference_N);
    }
  }
  return mean_of(values);
}

double spread(const std::vector<double>& values) {
  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  return values.size() < 2 ? 0.0 : *high - *low;
}

// Errors of a load's ascending readings, one for each series: its first.
std::vector<double> errors_N(const Side& side) {
  std::vector<double> errors;
  for (const auto& [series, readings] : side) {
    errors.push_back(readings.front().force_N - readings.front().reference_N);
  }
  return errors;
}

// Descending less ascending of one series, each about its own load.
std::optional<double> reversibility_N(const Load& load) {
  std::vector<double> differences;
  for (const auto& [series, down] : load.down) {
    const auto up = load.up.find(series);
    if (up == load.up.end()) continue;
    const Shown& first = up->second.front();
    const Shown& last = down.back();
    differences.push_back((last.force_N - last.reference_N) - (first.force_N - first.reference_N));
  }
  if (differences.empty()) return std::nullopt;
  return largest_by_magnitude(differences);
}

// Nothing where no series reached the load ascending.
std::optional<LoadPoint> point_of(const Load& load, const Run& run, double resolution) {
  if (load.up.empty()) return std::nullopt;
  LoadPoint point;
  point.load_N = load.load_N();
  const double percent = 100.0 / std::abs(point.load_N);
  const std::vector<double> errors = errors_N(load.up);
  // The sign of the load: a cell that pulls shows too much where it shows more negative.
  const double sign = point.load_N < 0.0 ? -1.0 : 1.0;
  point.accuracy_percent = sign * percent * mean_of(errors);
  point.repeatability_percent = percent * spread(errors);
  if (const std::optional<double> back = reversibility_N(load)) {
    point.reversibility_percent = sign * percent * *back;
  }
  if (resolution > 0.0) {
    point.resolution_percent = percent * resolution * std::abs(run.slope_N);
  }
  point.series = static_cast<int>(load.up.size());
  return point;
}

double non_linearity_N(const Run& run) {
  std::vector<double> deflections;
  std::vector<double> loads;
  for (const Load& load : run.loads) {
    if (load.up.empty()) continue;
    loads.push_back(load.load_N());
    deflections.push_back((mean_excess_N(load.up, run.slope_N) + load.load_N()) / run.slope_N);
  }
  if (loads.size() < 2) return 0.0;
  return largest_by_magnitude(end_point_deviations(deflections, loads));
}

std::optional<double> hysteresis_N(const Run& run) {
  std::vector<double> differences;
  for (const Load& load : run.loads) {
    if (load.up.empty() || load.down.empty() || run.is_zero(load)) continue;
    differences.push_back(mean_excess_N(load.down, run.slope_N) -
                          mean_excess_N(load.up, run.slope_N));
  }
  if (differences.empty()) return std::nullopt;
  return largest_by_magnitude(differences);
}

std::optional<double> zero_return_N(const Run& run) {
  for (const Load& load : run.loads) {
    if (run.is_zero(load)) return reversibility_N(load);
  }
  return std::nullopt;
}

}  // namespace

ForcePerformance force_performance(const Calibration& calibration) {
  ENSURE(calibration.kind == Kind::force && !calibration.readings.empty());
  const Run run = run_of(calibration);
  ForcePerformance performance;
  performance.full_scale_N = run.full_scale_N;
  performance.series = run.series;
  const double percent = 100.0 / run.full_scale_N;
  double largest_spread_N = 0.0;
  for (const Load& load : run.loads) {
    largest_spread_N = std::max(largest_spread_N, spread(errors_N(load.up)));
    if (run.is_zero(load)) continue;
    if (const std::optional<LoadPoint> point = point_of(load, run, calibration.resolution)) {
      performance.points.push_back(*point);
    }
  }
  performance.repeatability_percent = percent * largest_spread_N;
  performance.non_linearity_percent = percent * non_linearity_N(run);
  if (const auto hysteresis = hysteresis_N(run)) {
    performance.hysteresis_percent = percent * *hysteresis;
  }
  if (const auto back = zero_return_N(run)) performance.zero_return_percent = percent * *back;
  if (calibration.creep) {
    if (const auto creep = creep_performance(*calibration.creep, run.slope_N)) {
      performance.creep_percent = creep->first_to_last_percent;
    }
  }
  return performance;
}

}  // namespace calibration
