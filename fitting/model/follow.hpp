// Follows a record's path with the force law, one force per node.
#pragma once

#include <vector>

#include "fitting/model/earlier_cycles.hpp"
#include "fitting/model/exponent_law.hpp"
#include "fitting/model/heat_law.hpp"
#include "fitting/model/path.hpp"

namespace fitting {

inline constexpr double kSmallestVolume_m3 = 1e-6;

// Whether every chamber keeps a volume over the path.
template <class T>
bool volumes_remain(const Chambers<T>& chambers, double largest_travel_m) {
  const T deepest(largest_travel_m);
  return chambers.positive_m3(deepest) > kSmallestVolume_m3 &&
         chambers.lower_m3(deepest) > kSmallestVolume_m3 &&
         chambers.negative_m3(T(0.0)) > kSmallestVolume_m3;
}

// Runs the gas through cycles between the path's ends at its mean speed, as before the record.
template <class T>
void run_earlier_cycles(const HeatLaw<T>& law, LawState<T>& state, const Path& path) {
  double time_s = state.time_s;
  go_through_earlier_cycles(path, [&](double travel_m, double span_s) {
    time_s += span_s;
    law.advance(state, travel_m, time_s);
  });
  state.time_s = path.start_s;
}

// Gives visit(force) the force at each node, gas and friction.
template <class T, class Visit>
void follow_heat(const HeatLaw<T>& law, const Path& path, protocol::GasStart start, Visit visit) {
  LawState<T> state = law.at_rest(path.start_m, path.start_s);
  if (start == protocol::GasStart::cycled) run_earlier_cycles(law, state, path);
  for (const PathNode& node : path.nodes) {
    law.advance(state, node.travel_m, node.time_s);
    visit(law.force_N(state));
  }
}

template <class T, class Visit>
void follow_exponent(const ExponentLaw<T>& law, const Path& path, Visit visit) {
  T friction_N(0.0);
  T at_turn_N(0.0);
  double turn_m = path.start_m;
  double last_m = path.start_m;
  int stroke = 0;
  for (const PathNode& node : path.nodes) {
    if (node.stroke != stroke) {
      stroke = node.stroke;
      turn_m = last_m;
      at_turn_N = friction_N;
    }
    const SpringParts<T> parts = law.parts(law.true_travel_m(node.travel_m));
    friction_N =
        law.friction_N(node.direction, node.travel_m - turn_m, at_turn_N, parts.positive_Pa);
    visit(T(parts.total_N() + friction_N));
    last_m = node.travel_m;
  }
}

// What it takes to follow one sweep.
struct SweepModel {
  GasLaw law = GasLaw::wall_coefficient;
  Geometry geometry;
  Circumstances at;
  ThermalReference reference;
  protocol::GasStart start = protocol::GasStart::equilibrium;
};

// Gives visit(force) the force at each node. RETURNS: false, and visits none, where a chamber would
// have no volume.
template <class T, class Visit>
bool follow_each(const SweepModel& model, const LawParameters<T>& p, const Path& path,
                 Visit visit) {
  if (!volumes_remain(make_chambers(p, model.geometry, model.at.spacers), path.largest_travel_m)) {
    return false;
  }
  if (model.law == GasLaw::exponent) {
    follow_exponent(ExponentLaw<T>(p, model.geometry, model.at), path, visit);
  } else {
    follow_heat(HeatLaw<T>(model.law, p, model.geometry, model.at, model.reference), path,
                model.start, visit);
  }
  return true;
}

// The same as a list; empty where a chamber would have no volume.
template <class T>
std::vector<T> follow(const SweepModel& model, const LawParameters<T>& p, const Path& path) {
  std::vector<T> force_N;
  force_N.reserve(path.nodes.size());
  follow_each(model, p, path, [&](const T& force) { force_N.push_back(force); });
  return force_N;
}

}  // namespace fitting
