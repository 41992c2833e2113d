// Creep under a load that stays on, and the limits that OIML R 60 sets for it.
#pragma once

#include <optional>

#include "calibration/readings.hpp"

namespace calibration {

// The share of a weighing instrument's error that its load cell may use up.
inline constexpr double kLoadCellShare = 0.7;

// Maximum permissible error of a class C load cell, in verification intervals v, at a load in v.
double load_cell_error_limit_v(double load_v, double share = kLoadCellShare);

// What a class C cell may creep at a load: in 30 minutes, and from the 20th to the 30th of them.
struct CreepLimits {
  double over_30_min_v = 0.0;
  double from_20_to_30_min_v = 0.0;
};
CreepLimits creep_limits(double load_v, double share = kLoadCellShare);

struct CreepPerformance {
  double load_N = 0.0;
  double lasted_s = 0.0;
  double first_to_last_N = 0.0;
  double first_to_last_percent = 0.0;  // of the load
  // Where the load stayed on for 30 minutes: the largest change from the first reading.
  std::optional<double> over_30_min_N;
  std::optional<double> from_20_to_30_min_N;
  // Of a class C cell whose maximum is this load: the most intervals (500 to 10000, in steps of
  // 500) whose two limits are kept.
  std::optional<int> intervals_met;
};

// value_per_reading: slope of the curve, N per count. Nothing where there are fewer than two
// readings. REQUIRES: times ascending, a load that is not zero.
std::optional<CreepPerformance> creep_performance(const CreepRun& run, double value_per_reading);

}  // namespace calibration
