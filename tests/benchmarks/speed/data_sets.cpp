#include "tests/benchmarks/speed/data_sets.hpp"

#include <cmath>

namespace speed {
namespace {

using namespace fitting;

LawParameters<double> make_truth() {
  LawParameters<double> p = law_samples::fork();
  p[kPositiveVolume] = 242.25e-6;
  p[kNegativeVolume] = 29e-6;
  p[kPreload] = 10.0;
  p[kFriction] = 30.0;
  p[kFrictionPerPressure] = 1e-5;
  p[kPreslidingTravel] = 4e-4;
  p[kExponent] = 1.12;
  return p;
}

void free_six(DataSet& set) {
  set.map.given = set.truth;
  set.map.sweeps = static_cast<int>(set.sweeps.size());
  // Start over truth.
  const std::pair<LawIndex, double> six[] = {{kPositiveVolume, 0.7},   {kNegativeVolume, 1.3},
                                             {kPreload, 1.3},          {kFriction, 0.7},
                                             {kPreslidingTravel, 1.3}, {kExponent, 1.3}};
  set.start.resize(6);
  int at = 0;
  for (const auto& [index, ratio] : six) {
    FreeParameter free{index, Scale::linear};
    free.centre_SI = set.truth[index];
    free.unit_SI = set.truth[index];
    set.map.free.push_back(free);
    set.start(at++) = ratio - 1.0;
  }
}

}  // namespace

DataSet make_small() {
  DataSet out;
  out.truth = make_truth();
  out.sweeps.push_back(quasi_static::make({.cycles = 2, .rows = 4000, .to_m = 0.152}, out.truth));
  free_six(out);
  return out;
}

DataSet make_joint() {
  DataSet out;
  out.truth = make_truth();
  for (int pressure = 0; pressure < 4; ++pressure) {
    for (int spacers = 0; spacers < 3; ++spacers) {
      quasi_static::Plan plan;
      plan.pressure_Pa = 5e5 + pressure * 2e5 / 3.0;
      plan.spacers = spacers;
      plan.cycles = 3;
      plan.rows = 20000;
      plan.to_m = 0.152;
      plan.seed = static_cast<unsigned>(10 + 3 * pressure + spacers);
      out.sweeps.push_back(quasi_static::make(plan, out.truth));
    }
  }
  free_six(out);
  return out;
}

}  // namespace speed
