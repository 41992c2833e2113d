// The rig's interrupt side: each step edge, and the reasons for not taking it. Included by rig.hpp.
#pragma once

#include "controller/firmware/core/rig.hpp"

namespace controller {
namespace firmware {

template <class Hal>
void Rig<Hal>::on_tick() {
  // The inputs are read here, just before the edge, and not when the step was planned: between the
  // two lies a tick, in which a switch may trip. Nothing that takes time comes behind that reading.
  if (step_due_) {
    step_due_ = false;
    if (travel_allows_step() && inputs_allow_motion()) {
      hal_.step(true);
      position_steps_ += direction_;
    }
  }
  step_due_ = planner_.tick();
  ++ticks_;
  if (++tick_of_ms_ == Hal::kTicksPerMs) {
    tick_of_ms_ = 0;
    if (ms_due_ != 0xFF) ++ms_due_;
    // The hardware watchdog needs more than a hundred milliseconds; this one stops the steps of a
    // rig whose main loop hangs within eleven.
    if (main_loop_age_ms_ < kMainLoopStuckMs) {
      ++main_loop_age_ms_;
    } else if (planner_.running()) {
      latch(protocol::wire::kFaultMainLoopStuck);
    }
  }
  hal_.step(false);
}

template <class Hal>
void Rig<Hal>::on_input_edge() {
  if (planner_.running() || step_due_) {
    inputs_allow_motion();
  } else if (hal_.inputs() & kInputEmergencyStop) {
    latch(protocol::wire::kFaultEmergencyStop);
  }
}

template <class Hal>
bool Rig<Hal>::inputs_allow_motion() {
  const uint8_t ahead = direction_ < 0 ? kInputLimitLow : kInputLimitHigh;
  const uint8_t forbidding = kInputEmergencyStop | ahead;
  const uint8_t tripped = hal_.inputs() & forbidding;
  if (tripped == 0) return true;
  const uint16_t faults = faults_of(tripped);
  if (seeking_low_switch_ && faults == protocol::wire::kFaultLimitLow) {
    low_switch_found_ = true;
    stop_steps();
    return false;
  }
  latch(faults);
  return false;
}

// A motion is planned to end inside the limits, but they may be set closer while it runs.
template <class Hal>
bool Rig<Hal>::travel_allows_step() {
  if (!position_known_) return true;
  if (direction_ > 0 ? position_steps_ < travel_high_steps_ : position_steps_ > travel_low_steps_) {
    return true;
  }
  latch(protocol::wire::kFaultTravel);
  return false;
}

template <class Hal>
void Rig<Hal>::latch(uint16_t faults) {
  faults_ = static_cast<uint16_t>(faults_ | faults);
  position_known_ = false;
  stop_steps();
  if (faults_ & protocol::wire::kFaultEmergencyStop) {
    hal_.enable(false);
    driver_enabled_ = false;
  }
}

template <class Hal>
void Rig<Hal>::stop_steps() {
  planner_.halt();
  step_due_ = false;
}

}  // namespace firmware
}  // namespace controller
