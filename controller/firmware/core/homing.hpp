// The legs of homing, and which follows which.
//
//   approach --found--> back off --released--> re-approach --found: zero--> leave --released-->
//   done
//
// A rig that starts on the switch begins with the back-off, which may take a few tries: the
// carriage may have overrun the switch. A switch that never comes, or never lets go, fails.
#pragma once

#include <stdint.h>

#include "controller/firmware/core/step_planner.hpp"

namespace controller {
namespace firmware {

enum class HomingLeg : uint8_t { approach, back_off, reapproach, leave };

enum class HomingVerdict : uint8_t { next_leg, homed, failed };

struct Homing {
  static constexpr uint8_t kBackOffTries = 4;

  Ramp fast;
  Ramp slow;
  uint32_t back_off_steps = 0;
  uint32_t maximum_steps = 0;
  HomingLeg leg = HomingLeg::approach;
  uint8_t tries_left = kBackOffTries;

  void begin(bool on_switch) {
    leg = on_switch ? HomingLeg::back_off : HomingLeg::approach;
    tries_left = kBackOffTries;
  }

  // A leg ended: by finding the switch (towards it), or after all its steps with the switch
  // tripped or not (away from it).
  HomingVerdict next(bool switch_found, bool switch_tripped) {
    switch (leg) {
      case HomingLeg::approach:
      case HomingLeg::reapproach:
        if (!switch_found) return HomingVerdict::failed;
        leg = leg == HomingLeg::approach ? HomingLeg::back_off : HomingLeg::leave;
        return HomingVerdict::next_leg;
      case HomingLeg::back_off:
        if (!switch_tripped) {
          leg = HomingLeg::reapproach;
          return HomingVerdict::next_leg;
        }
        return --tries_left == 0 ? HomingVerdict::failed : HomingVerdict::next_leg;
      case HomingLeg::leave:
        return switch_tripped ? HomingVerdict::failed : HomingVerdict::homed;
    }
    return HomingVerdict::failed;
  }

  bool towards_switch() const { return leg == HomingLeg::approach || leg == HomingLeg::reapproach; }
  const Ramp& ramp() const { return leg == HomingLeg::reapproach ? slow : fast; }
  uint32_t steps() const {
    switch (leg) {
      case HomingLeg::approach:
        return maximum_steps;
      case HomingLeg::reapproach:
        return 2 * back_off_steps;  // twice: the switch's hysteresis must not decide
      case HomingLeg::back_off:
      case HomingLeg::leave:
        break;
    }
    return back_off_steps;
  }
};

}  // namespace firmware
}  // namespace controller
