#include "controller/virtual_rig/plant_sweep.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "controller/virtual_rig/load_cell.hpp"

namespace controller::virtual_rig {
namespace {

// A move from rest to rest with one acceleration and one speed.
class Trapezoid {
 public:
  Trapezoid(double from_m, double to_m, double speed_m_s, double acceleration_m_s2)
      : from_m_(from_m),
        direction_(to_m < from_m ? -1.0 : 1.0),
        distance_m_(std::abs(to_m - from_m)),
        acceleration_m_s2_(acceleration_m_s2),
        speed_m_s_(std::min(speed_m_s, std::sqrt(acceleration_m_s2 * distance_m_))),
        ramp_s_(speed_m_s_ / acceleration_m_s2),
        duration_s_(distance_m_ == 0.0 ? 0.0 : distance_m_ / speed_m_s_ + ramp_s_) {}

  double duration_s() const { return duration_s_; }

  double position_m(double time_s) const {
    if (time_s >= duration_s_) return from_m_ + direction_ * distance_m_;
    if (time_s < ramp_s_) return from_m_ + direction_ * 0.5 * acceleration_m_s2_ * time_s * time_s;
    const double left_s = duration_s_ - time_s;
    if (left_s < ramp_s_) {
      return from_m_ + direction_ * (distance_m_ - 0.5 * acceleration_m_s2_ * left_s * left_s);
    }
    return from_m_ + direction_ * speed_m_s_ * (time_s - 0.5 * ramp_s_);
  }

 private:
  double from_m_, direction_, distance_m_, acceleration_m_s2_, speed_m_s_, ramp_s_, duration_s_;
};

class Sampler {
 public:
  Sampler(Plant& plant, const SweepInstrument& instrument, protocol::SweepRecord& record)
      : plant_(plant),
        bench_(plant.file().bench),
        instrument_(instrument),
        cell_(bench_.load_cell, instrument.seed),
        record_(record) {
    if (!instrument.noise) cell_.silence_noise();
  }

  void move(const Trapezoid& path, double dwell_s, int stroke) {
    const double end_s = path.duration_s() + dwell_s;
    const double begin_s = clock_s_;
    while (next_s_ < begin_s + end_s) {
      plant_.drive_to(path.position_m(next_s_ - begin_s), next_s_ - clock_s_);
      clock_s_ = next_s_;
      next_s_ += cell_.period_s();
      sample(stroke);
    }
    plant_.drive_to(path.position_m(end_s), begin_s + end_s - clock_s_);
    clock_s_ = begin_s + end_s;
  }

 private:
  void sample(int stroke) {
    const int32_t counts = cell_.sample(plant_.force_N(), plant_.room_K(), cell_.period_s());
    const double steps_per_m = bench_.steps_per_mm * 1e3;
    const int64_t steps = std::llround(plant_.screw_m() * steps_per_m);
    const double force_N = instrument_.perfect_cell ? plant_.force_N() : cell_.nominal_N(counts);
    double travel_m = static_cast<double>(steps) / steps_per_m;
    // The carriage trails the screw by at most half the play on either side.
    if (instrument_.backlash_removed) travel_m += plant_.carriage_m() - plant_.screw_m();
    if (instrument_.frame_removed) travel_m -= force_N / bench_.frame_N_m;
    record_.time_s.push_back(clock_s_);
    record_.stroke.push_back(stroke);
    record_.travel_m.push_back(travel_m);
    record_.force_N.push_back(force_N);
    record_.raw_steps.push_back(steps);
    record_.raw_counts.push_back(counts);
  }

  Plant& plant_;
  const PlantBench& bench_;
  SweepInstrument instrument_;
  LoadCell cell_;
  protocol::SweepRecord& record_;
  double clock_s_ = 0.0;
  double next_s_ = 0.0;
};

protocol::Metadata describe(const Plant& plant, const SweepProgram& program, uint64_t seed) {
  const PlantFork& fork = plant.file().fork;
  protocol::Metadata data;
  data.record_id =
      fmt::format("{}-{:.0f}kPa-{}-{}", fork.name, plant.setting().pressure_gauge_Pa / 1e3,
                  plant.setting().spacers, seed);
  data.origin = "sweep";
  data.source = "plant";
  data.rig_id = plant.file().bench.name;
  data.fork.name = fork.name;
  data.fork.travel_m = fork.travel_m;
  data.fork.air_spring.piston_diameter_m = fork.piston_diameter_m;
  data.fork.air_spring.shaft_diameter_m = fork.shaft_diameter_m;
  data.fork.air_spring.spacer_volume_m3 = fork.spacer_volume_m3;
  data.fork.lower_legs.stanchion_diameter_m = fork.lower_legs.stanchion_diameter_m;
  data.fork.damper_rod_diameter_m = fork.damper_rod_diameter_m;
  data.setting = plant.setting();
  data.speed_m_s = program.speed_m_s;
  data.conditioning_cycles = program.conditioning_cycles;
  data.measuring_cycles = program.measuring_cycles;
  return data;
}

}  // namespace

protocol::SweepRecord plant_sweep(Plant& plant, const SweepProgram& program,
                                  const SweepInstrument& instrument) {
  protocol::SweepRecord record;
  record.metadata = describe(plant, program, instrument.seed);
  Sampler sampler(plant, instrument, record);
  const auto path = [&](double from_m, double to_m) {
    return Trapezoid(from_m, to_m, program.speed_m_s, program.acceleration_m_s2);
  };
  if (plant.screw_m() != program.from_m) {
    sampler.move(path(plant.screw_m(), program.from_m), program.dwell_s, 0);
  }
  int stroke = 0;
  const int cycles = program.conditioning_cycles + program.measuring_cycles;
  for (int cycle = 0; cycle < cycles; ++cycle) {
    sampler.move(path(program.from_m, program.to_m), program.dwell_s, stroke++);
    sampler.move(path(program.to_m, program.from_m), program.dwell_s, stroke++);
  }
  return record;
}

}  // namespace controller::virtual_rig
