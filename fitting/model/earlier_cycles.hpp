// The cycles before a record whose gas was left by cycles like its own.
#pragma once

#include <algorithm>

#include "fitting/model/path.hpp"

namespace fitting {

inline constexpr int kEarlierCycles = 8;
inline constexpr double kEarlierStep_m = 1e-3;

// step(travel, span of time) for every step, between the path's ends at its mean speed.
template <class Step>
void go_through_earlier_cycles(const Path& path, Step step) {
  const double span_m = path.largest_travel_m - path.start_m;
  if (span_m <= 0.0 || path.speed_m_s <= 0.0) return;
  const int steps = std::max(1, static_cast<int>(span_m / kEarlierStep_m));
  for (int stroke = 0; stroke < 2 * kEarlierCycles; ++stroke) {
    for (int i = 1; i <= steps; ++i) {
      const double share = double(i) / steps;
      const double at = stroke % 2 == 0 ? share : 1.0 - share;
      step(path.start_m + at * span_m, span_m / steps / path.speed_m_s);
    }
  }
}

}  // namespace fitting
