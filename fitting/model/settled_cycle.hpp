// The loop that a fork settles into when it is cycled between full extension and one depth.
//
// Enthalpy that goes through the port creeps from chamber to chamber, so the first cycles differ;
// the settled one is what a bench sees after conditioning.
#pragma once

#include <algorithm>
#include <cmath>
#include <vector>

#include "fitting/model/follow.hpp"

namespace fitting {

inline constexpr int kLargestCycles = 80;
inline constexpr double kSettled = 1e-7;  // of the positive chamber's mass, from cycle to cycle

// Forces at each grid travel, both ascending with it.
template <class T>
struct Cycle {
  std::vector<T> compression_N;
  std::vector<T> rebound_N;
};

// However wide the grid, the gas is followed in steps no longer than this.
inline constexpr double kCycleStep_m = 5e-4;

template <class T>
void advance_evenly(const HeatLaw<T>& law, LawState<T>& state, double from_m, double to_m,
                    double speed_m_s) {
  const double way_m = to_m - from_m;
  const int steps = std::max(1, static_cast<int>(std::ceil(std::abs(way_m) / kCycleStep_m - 1e-9)));
  for (int i = 1; i <= steps; ++i) {
    law.advance(state, from_m + way_m * i / steps,
                state.time_s + std::abs(way_m) / steps / speed_m_s);
  }
}

// Goes once over the grid (travel ascending, metres) and back at a constant speed, the state with
// it: visit(index, direction) at each point.
template <class T, class Visit>
void go_over(const HeatLaw<T>& law, LawState<T>& state, const std::vector<double>& travel_m,
             double speed_m_s, Visit visit) {
  const std::size_t size = travel_m.size();
  for (std::size_t i = 0; i < size; ++i) {
    if (i > 0) advance_evenly(law, state, travel_m[i - 1], travel_m[i], speed_m_s);
    visit(i, +1);
  }
  for (std::size_t i = size; i-- > 0;) {
    if (i + 1 < size) advance_evenly(law, state, travel_m[i + 1], travel_m[i], speed_m_s);
    visit(i, -1);
  }
}

template <class T>
Cycle<T> run_cycle(const HeatLaw<T>& law, LawState<T>& state, const std::vector<double>& travel_m,
                   double speed_m_s) {
  Cycle<T> out;
  out.compression_N.resize(travel_m.size());
  out.rebound_N.resize(travel_m.size());
  go_over(law, state, travel_m, speed_m_s, [&](std::size_t i, int direction) {
    (direction > 0 ? out.compression_N : out.rebound_N)[i] = law.force_N(state);
  });
  return out;
}

// How many cycles it takes until nothing changes any more.
inline int cycles_to_settle(const HeatLaw<double>& law, const std::vector<double>& travel_m,
                            double speed_m_s) {
  LawState<double> state = law.at_rest(travel_m.front(), 0.0);
  double before_kg = state.positive.mass_kg;
  for (int cycle = 1; cycle < kLargestCycles; ++cycle) {
    run_cycle(law, state, travel_m, speed_m_s);
    if (std::abs(state.positive.mass_kg - before_kg) < kSettled * before_kg && cycle >= 2)
      return cycle;
    before_kg = state.positive.mass_kg;
  }
  return kLargestCycles;
}

template <class T>
Cycle<T> settled_cycle(const HeatLaw<T>& law, int cycles, const std::vector<double>& travel_m,
                       double speed_m_s) {
  LawState<T> state = law.at_rest(travel_m.front(), 0.0);
  for (int i = 1; i < cycles; ++i) run_cycle(law, state, travel_m, speed_m_s);
  return run_cycle(law, state, travel_m, speed_m_s);
}

// Without a clock only friction tells the strokes apart; the second cycle has forgotten its start.
template <class T>
Cycle<T> settled_cycle(const ExponentLaw<T>& law, const std::vector<double>& travel_m) {
  Cycle<T> out;
  const std::size_t size = travel_m.size();
  out.compression_N.resize(size);
  out.rebound_N.resize(size);
  T at_turn_N(0.0);
  T friction_N(0.0);
  const auto visit = [&](std::size_t i, int direction, double turn_m, std::vector<T>& into) {
    const SpringParts<T> parts = law.parts(law.true_travel_m(travel_m[i]));
    friction_N = law.friction_N(direction, travel_m[i] - turn_m, at_turn_N, parts.positive_Pa);
    into[i] = parts.total_N() + friction_N;
  };
  for (int cycle = 0; cycle < 2; ++cycle) {
    at_turn_N = friction_N;
    for (std::size_t i = 0; i < size; ++i) visit(i, +1, travel_m.front(), out.compression_N);
    at_turn_N = friction_N;
    for (std::size_t i = size; i-- > 0;) visit(i, -1, travel_m.back(), out.rebound_N);
  }
  return out;
}

}  // namespace fitting
