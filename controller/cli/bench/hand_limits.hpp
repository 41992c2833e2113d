// What the press keeps to while a person moves it by hand: home, touch, move, jog.
#pragma once

#include "controller/cli/bench/bench_setup.hpp"
#include "controller/host/press.hpp"

namespace controller::cli {

// Without a certificate newtons mean little: then a tenth of the converter's range to either side.
inline host::PressLimits hand_limits(const BenchSetup& setup) {
  constexpr double kPull_N = 300.0;
  constexpr double kTenthOfRange_N = 838861.0 / host::kNominalCountsPerN;
  host::PressLimits limits;
  limits.force_low_N = setup.force ? -kPull_N : -kTenthOfRange_N;
  limits.force_high_N = setup.force ? setup.bench.force_max_N : kTenthOfRange_N;
  limits.carriage_high_m = setup.bench.travel_max_m;
  return limits;
}

}  // namespace controller::cli
