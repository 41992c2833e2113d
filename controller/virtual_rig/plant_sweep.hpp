// A sweep of the plant without wire or firmware: sampled directly at the load cell's rate. For the
// tests of curve and fit, which need many records quickly.
#pragma once

#include <cstdint>

#include "controller/virtual_rig/plant.hpp"
#include "protocol/record/sweep_record.hpp"

namespace controller::virtual_rig {

struct SweepProgram {
  double speed_m_s = 4e-3;
  double from_m = 0.0;
  double to_m = 0.146;
  int conditioning_cycles = 2;
  int measuring_cycles = 3;
  double dwell_s = 0.5;  // at each reversal
  double acceleration_m_s2 = 0.05;
};

// What the record still contains of the instrument.
struct SweepInstrument {
  uint64_t seed = 1;
  bool noise = true;
  bool perfect_cell = false;     // neither creep nor non-linearity nor drift nor quantisation
  bool frame_removed = true;     // travel corrected by force over frame stiffness
  bool backlash_removed = true;  // travel corrected by the play, by the direction of drive
};

// Pumps nothing: the plant goes on from where it stands, and comes back to `from`. Rows carry raw
// steps and counts; travel and force are made of them with the bench's true scales. The metadata
// have the plant's setting and the program; the fork is named, with its exact diameters, but its
// volumes stay empty: whoever fits puts the caliper's fork there.
protocol::SweepRecord plant_sweep(Plant& plant, const SweepProgram& program,
                                  const SweepInstrument& instrument = {});

}  // namespace controller::virtual_rig
