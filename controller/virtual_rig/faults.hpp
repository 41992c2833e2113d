// What can be made to go wrong in a virtual rig, and when.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "protocol/result.hpp"

namespace controller::virtual_rig {

enum class FaultKind {
  unplug,               // the cable; nothing passes any more
  garbage_bytes,        // amount: random bytes into what the host receives
  lost_bytes,           // amount: bytes missing from what the host receives
  stuck_load_cell,      // the same reading for ever
  saturated_load_cell,  // the end code for ever
  silent_load_cell,     // no conversion any more
  noisy_load_cell,      // amount: newtons, standard deviation of a reading
  reversed_load_cell,   // the other sign from now on
  lost_steps,           // amount: steps that move nothing
  stuck_low_switch,     // tripped for ever
  stuck_high_switch,
  dead_low_switch,  // never tripped any more
  dead_high_switch,
  emergency_stop,  // pressed, and stays pressed
  brown_out,       // the chip resets
  slow_leak,       // amount: part of the positive chamber's gauge mass per second
};

struct Fault {
  FaultKind kind = FaultKind::unplug;
  double amount = 0.0;
  // Comes when either is reached: virtual time since the start, carriage position from top-out.
  std::optional<double> at_time_s;
  std::optional<double> at_carriage_m;
};

// "KIND[=AMOUNT]@WHEN", more of them behind commas; WHEN has a unit of time or length:
// "emergency_stop@30 s", "lost_steps=40@80 mm,slow_leak=1e-4@0 s". ERRORS: usage.
protocol::Result<std::vector<Fault>> parse_faults(std::string_view text);

}  // namespace controller::virtual_rig
