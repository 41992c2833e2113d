// Forks drawn by chance from a stated range, on a bench whose instruments err by chance within
// their stated doubts: what a fit meets in the world, with the truth known.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "controller/virtual_rig/plant_sweep.hpp"
#include "controller/virtual_rig/truth.hpp"

namespace fit_study {

class Chance;

// What the instruments are wrong by, the same for all sweeps of one fork but the readings.
struct BenchError {
  double gain = 0.0;  // relative
  double zero_N = 0.0;
  double travel_zero_m = 0.0;
  double gauge = 0.0;  // relative
};

// What a plant does that no model knows of, or a bench in the middle of a sweep.
enum class Flaw {
  none,
  missing_chamber,   // the negative chamber is vented
  extra_chamber,     // gas behind a floating piston, which gives way from some travel on
  doubled_friction,  // beyond half travel
  sticking_bushing,  // a stretch of 15 mm that holds back
  slipped_travel,    // 2 mm lost at one place of one stroke
  gain_step,         // of the load cell, from one moment on
};
inline constexpr Flaw kFlaws[] = {Flaw::missing_chamber,  Flaw::extra_chamber,
                                  Flaw::doubled_friction, Flaw::sticking_bushing,
                                  Flaw::slipped_travel,   Flaw::gain_step};
const char* name_of(Flaw flaw);

struct Place {
  double from_m = 0.0;
  double to_m = 0.0;
};

class DrawnFork {
 public:
  explicit DrawnFork(std::uint64_t seed, Flaw flaw = Flaw::none);

  // Two pressures by two spacer counts, as a workshop has them.
  std::vector<protocol::SweepRecord> sweeps() const;
  // One more, at what the gauge says; numbers from 1 to 7 tell sweeps of one mounting apart.
  protocol::SweepRecord sweep_at(double reading_Pa, int spacers, unsigned number) const;

  // The same fork on another's bench: load cell, gauge, room and speed are that one's, while the
  // zeros are found anew at each mounting.
  DrawnFork on_bench_of(const DrawnFork& other) const;
  // The same fork taken off and mounted again.
  DrawnFork mounted_anew(std::uint64_t seed) const;

  Flaw flaw() const { return flaw_; }
  // Where a flaw shows, and the id of the sweep that alone has it; empty: all of them do.
  Place place() const { return place_; }
  std::string spoilt_sweep() const;

  const controller::virtual_rig::PlantFile& plant() const { return plant_; }
  const BenchError& bench_error() const { return error_; }
  double speed_m_s() const { return program_.speed_m_s; }
  double mean_pressure_Pa() const { return 0.5 * (low_Pa_ + high_Pa_); }  // gauge, true
  controller::virtual_rig::Truth truth(double pressure_gauge_Pa) const;
  // What is in the fork when a gauge that errs in its scale alone reads this.
  double true_pressure_Pa(double reading_Pa) const { return reading_Pa * (1.0 + error_.gauge); }
  // In words, for whoever looks at one fork alone.
  std::string described() const;

 private:
  protocol::Setting setting(double pressure_gauge_Pa, int spacers) const;
  // The pressure is the true one; the gauge reads it.
  protocol::SweepRecord sweep(double pressure_gauge_Pa, int spacers, unsigned number) const;
  void draw_fork(Chance& chance);
  void draw_bench(Chance& chance);
  void draw_flaw(Chance& chance);
  void spoil(protocol::SweepRecord& record, unsigned number) const;

  std::uint64_t seed_;
  Flaw flaw_;
  controller::virtual_rig::PlantFile plant_;
  controller::virtual_rig::Flaws plant_flaws_;
  protocol::Fork caliper_;
  controller::virtual_rig::SweepProgram program_;
  BenchError error_;
  double room_K_ = 293.15;
  double low_Pa_ = 0.0;
  double high_Pa_ = 0.0;
  int more_spacers_ = 1;
  Place place_;
};

}  // namespace fit_study
