#include "calibration/performance/creep.hpp"

#include <algorithm>
#include <cmath>

#include "protocol/error.hpp"

namespace calibration {
namespace {

constexpr double kThirtyMinutes_s = 1800.0;
constexpr double kTwentyMinutes_s = 1200.0;
// A hand with a stop-watch: this much short of 30 minutes still counts.
constexpr double kLate_s = 30.0;

// Between readings on the straight line, beyond the ends the nearest.
double reading_at_time(const CreepRun& run, double time_s) {
  const auto& readings = run.readings;
  const auto next = std::find_if(readings.begin(), readings.end(),
                                 [&](const CreepReading& r) { return r.time_s >= time_s; });
  if (next == readings.end()) return readings.back().reading;
  if (next == readings.begin()) return next->reading;
  const auto last = std::prev(next);
  const double part = (time_s - last->time_s) / (next->time_s - last->time_s);
  return last->reading + part * (next->reading - last->reading);
}

std::optional<int> intervals_met(const CreepPerformance& creep) {
  constexpr int kMost = 10000;
  constexpr int kStep = 500;
  for (int intervals = kMost; intervals >= kStep; intervals -= kStep) {
    const double v_N = std::abs(creep.load_N) / intervals;
    const CreepLimits limits = creep_limits(intervals);
    if (std::abs(*creep.over_30_min_N) <= limits.over_30_min_v * v_N &&
        std::abs(*creep.from_20_to_30_min_N) <= limits.from_20_to_30_min_v * v_N) {
      return intervals;
    }
  }
  return std::nullopt;
}

}  // namespace

double load_cell_error_limit_v(double load_v, double share) {
  ENSURE(load_v >= 0.0 && share > 0.0);
  const double instrument_v = load_v <= 500.0 ? 0.5 : load_v <= 2000.0 ? 1.0 : 1.5;
  return share * instrument_v;
}

CreepLimits creep_limits(double load_v, double share) {
  const double error_limit_v = load_cell_error_limit_v(load_v, share);
  return {0.7 * error_limit_v, 0.15 * error_limit_v};
}

std::optional<CreepPerformance> creep_performance(const CreepRun& run, double value_per_reading) {
  if (run.readings.size() < 2 || run.load_N == 0.0) return std::nullopt;
  const CreepReading& first = run.readings.front();
  CreepPerformance creep;
  creep.load_N = run.load_N;
  creep.lasted_s = run.readings.back().time_s - first.time_s;
  creep.first_to_last_N = value_per_reading * (run.readings.back().reading - first.reading);
  creep.first_to_last_percent = 100.0 * creep.first_to_last_N / run.load_N;
  if (creep.lasted_s < kThirtyMinutes_s - kLate_s) return creep;
  const double end_s = first.time_s + kThirtyMinutes_s;
  double largest = reading_at_time(run, end_s) - first.reading;
  for (const CreepReading& reading : run.readings) {
    const double change = reading.reading - first.reading;
    if (reading.time_s <= end_s && std::abs(change) > std::abs(largest)) largest = change;
  }
  creep.over_30_min_N = value_per_reading * largest;
  creep.from_20_to_30_min_N =
      value_per_reading *
      (reading_at_time(run, end_s) - reading_at_time(run, first.time_s + kTwentyMinutes_s));
  creep.intervals_met = intervals_met(creep);
  return creep;
}

}  // namespace calibration
