// How long the host waits for what. One place, each with its reason.
#pragma once

#include <chrono>
#include <cstdint>

namespace controller::host {

struct Deadlines {
  // From opening to the answer to hello: opening resets many boards, and their loaders wait two
  // seconds for a new program before they start the old one.
  std::chrono::milliseconds open{4000};
  // One hello, before it is said again.
  std::chrono::milliseconds hello{400};
  // Bytes into the port: its buffer takes a whole frame at once, unless the line is stuck.
  std::chrono::milliseconds write{1000};
  // From a request to its answer: a millisecond in general, a scheduler's whim at worst.
  std::chrono::milliseconds reply{500};
  // Between two frames: the rig reports its state every 50 ms.
  std::chrono::milliseconds gap{1500};
  // For what lies in the port's buffer already, after this computer itself did nothing for a while.
  std::chrono::milliseconds late_look{20};
  // Added to what a motion should take, by the rig's own clock.
  std::chrono::milliseconds motion{3000};
};

constexpr int kRequestTriesMax = 4;

// The host says that it is alive this often, by its own clock or by the rig's, whichever comes
// first: a rig in accelerated time runs no further than the last heartbeat and its time-out.
struct HeartbeatPolicy {
  // For a rig whose time runs as fast as the host follows: on a short leash, so that the time
  // between two strokes does not depend on how busy this computer is.
  static HeartbeatPolicy accelerated() {
    return {std::chrono::milliseconds(50), std::chrono::milliseconds(50), 200, true};
  }

  std::chrono::milliseconds host_period{100};
  std::chrono::microseconds device_period{200'000};
  // After so long a silence the rig stops by itself. Long enough for a disk to take a stroke's
  // rows; at a bench's speeds the carriage goes a few millimetres in that time, within limits that
  // the rig itself enforces.
  uint16_t rig_timeout_ms = 2000;
  // The rig's time waits for the host, whatever the host's own clock says.
  bool lock_step = false;
};

}  // namespace controller::host
