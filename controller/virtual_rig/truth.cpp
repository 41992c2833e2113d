#include "controller/virtual_rig/truth.hpp"

#include <cmath>

#include "controller/virtual_rig/plant.hpp"
#include "controller/virtual_rig/plant_sweep.hpp"

namespace controller::virtual_rig {
namespace {

constexpr int kSettlingCycles = 7;

// Force over an ascending or descending run of travels, at a travel between them.
double interpolate(const std::vector<double>& travel_m, const std::vector<double>& force_N,
                   size_t begin, size_t end, double at_m) {
  const bool up = travel_m[end - 1] > travel_m[begin];
  size_t i = begin + 1;
  while (i + 1 < end && (travel_m[i] < at_m) == up) ++i;
  const double part = (at_m - travel_m[i - 1]) / (travel_m[i] - travel_m[i - 1]);
  return force_N[i - 1] + part * (force_N[i] - force_N[i - 1]);
}

}  // namespace

Truth::Truth(const PlantFile& file, const protocol::Setting& setting)
    : file_(file), setting_(setting), slow_(file.fork, setting) {}

double Truth::friction_N(double travel_m, double speed_m_s) const {
  const SealFriction& seal = file_.fork.friction;
  const double gauge_Pa = slow_.state(travel_m).positive_Pa - setting_.ambient_pressure_Pa;
  return LuGre(seal.bristles)
      .sliding_N(seal.coulomb_N + seal.coulomb_N_per_Pa * gauge_Pa, speed_m_s);
}

SettledCycle Truth::settled_cycle(double speed_m_s, double from_m, double to_m,
                                  double step_m) const {
  PlantFile rigid = file_;
  rigid.bench.backlash_m = 0.0;
  // So stiff that the screw is the axle.
  rigid.bench.frame_N_m = 1e12;
  Plant plant(rigid);
  plant.pump(setting_);
  SweepProgram program;
  program.speed_m_s = speed_m_s;
  program.from_m = from_m;
  program.to_m = to_m;
  program.conditioning_cycles = kSettlingCycles;
  program.measuring_cycles = 1;
  program.dwell_s = 0.0;
  SweepInstrument instrument;
  instrument.perfect_cell = true;
  instrument.noise = false;
  const protocol::SweepRecord record = plant_sweep(plant, program, instrument);

  size_t begin = record.size();
  while (begin > 0 && record.stroke[begin - 1] >= 2 * kSettlingCycles) --begin;
  size_t turn = begin;
  while (turn < record.size() && record.stroke[turn] == 2 * kSettlingCycles) ++turn;
  SettledCycle cycle;
  const auto points = static_cast<int>(std::floor((to_m - from_m) / step_m + 1e-9)) + 1;
  for (int i = 0; i < points; ++i) {
    const double at_m = from_m + i * step_m;
    cycle.travel_m.push_back(at_m);
    cycle.compression_N.push_back(interpolate(record.travel_m, record.force_N, begin, turn, at_m));
    cycle.rebound_N.push_back(
        interpolate(record.travel_m, record.force_N, turn, record.size(), at_m));
  }
  return cycle;
}

}  // namespace controller::virtual_rig
