// When to step: a phase accumulator at a fixed tick, its speed ramped as a trapezoid.
//
// Units: a step is 2^32 of phase. Speed is phase per tick, acceleration phase per tick squared.
// The steps spent accelerating are counted, and as many are kept for slowing down, so a move lands
// exactly, whatever rounding did to its times. The last step may come at the creep speed, that of
// half a step from rest.
//
// Not locked: belongs to the tick interrupt, or to the main loop with interrupts off.
#pragma once

#include <stdint.h>

namespace controller {
namespace firmware {

struct Ramp {
  uint32_t cruise_q32 = 0;
  uint32_t acceleration_q32 = 0;
  uint32_t creep_q32 = 0;
};

inline uint32_t integer_sqrt(uint32_t value) {
  uint32_t root = 0;
  for (uint32_t bit = 0x8000u; bit != 0; bit >>= 1) {
    const uint32_t tried = root | bit;
    if (tried * tried <= value) root = tried;
  }
  return root;
}

// REQUIRES: speed of at most half a step per tick, acceleration of at most 2^16 / ticks_per_s^2.
inline Ramp make_ramp(uint32_t speed_steps_per_s, uint32_t acceleration_steps_per_s2,
                      uint32_t ticks_per_s) {
  // 16 bits more than the result keeps, so that the slowest speeds are exact to 1e-5 as well.
  const uint64_t speed_scale = (uint64_t{1} << 48) / ticks_per_s;
  const uint64_t acceleration_scale = speed_scale / ticks_per_s;
  Ramp ramp;
  ramp.cruise_q32 = static_cast<uint32_t>((speed_scale * speed_steps_per_s) >> 16);
  ramp.acceleration_q32 =
      static_cast<uint32_t>((acceleration_scale * acceleration_steps_per_s2) >> 16);
  if (ramp.acceleration_q32 == 0) ramp.acceleration_q32 = 1;
  ramp.creep_q32 = integer_sqrt(ramp.acceleration_q32) << 16;
  if (ramp.creep_q32 > ramp.cruise_q32) ramp.creep_q32 = ramp.cruise_q32;
  return ramp;
}

class StepPlanner {
 public:
  void start(uint32_t steps, const Ramp& ramp) {
    ramp_ = ramp;
    remaining_ = steps;
    spent_ = 0;
    speed_q32_ = 0;
    phase_ = 0x80000000u;  // the first step after half a step's way, the last mirrors it
  }

  // No further step.
  void halt() {
    remaining_ = 0;
    speed_q32_ = 0;
  }

  // Slows down to rest, as steeply as it sped up.
  void decelerate() {
    if (remaining_ > spent_) remaining_ = spent_;
    if (remaining_ == 0) halt();
  }

  bool running() const { return remaining_ != 0; }

  // One tick on. RETURNS true when a step is due.
  bool tick() {
    if (remaining_ == 0) return false;
    const bool slowing = remaining_ <= spent_;
    bool speeding = false;
    if (slowing) {
      speed_q32_ = speed_q32_ > ramp_.creep_q32 + ramp_.acceleration_q32
                       ? speed_q32_ - ramp_.acceleration_q32
                       : ramp_.creep_q32;
    } else if (speed_q32_ < ramp_.cruise_q32) {
      speeding = true;
      speed_q32_ += ramp_.acceleration_q32;
      if (speed_q32_ > ramp_.cruise_q32) speed_q32_ = ramp_.cruise_q32;
    }
    phase_ += speed_q32_;
    if (phase_ >= speed_q32_) return false;
    --remaining_;
    if (speeding) ++spent_;
    if (remaining_ == 0) speed_q32_ = 0;
    return true;
  }

 private:
  Ramp ramp_;
  uint32_t phase_ = 0;
  uint32_t speed_q32_ = 0;
  uint32_t remaining_ = 0;  // steps still to come
  uint32_t spent_ = 0;      // steps spent accelerating: what slowing down will need
};

}  // namespace firmware
}  // namespace controller
