// How long the chip goes on stepping after the reason to stop, over many phases of its program.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace tests {

enum class StopCause {
  emergency_stop,  // the edge of the input
  limit_switch,    // likewise, ahead of the motion
  over_limit,      // a conversion beyond the force limits is ready
  host_silent,     // the end of the host's last byte, less the agreed time-out
};
const char* name_of(StopCause cause);

struct Trial {
  // From the cause to the last step, the chip's interrupt entry added; 0 where no step came after.
  uint64_t late_cycles = 0;
  uint64_t steps_after = 0;
  bool latched = false;  // the right fault was told
};

// Each with the carriage under way, at a phase by chance. Throws std::runtime_error where the rig
// cannot be set going.
std::vector<Trial> run_trials(StopCause cause, int count, uint64_t seed);

// What the chip's memory took over a session with a homing and a move, bytes.
struct MemoryUsed {
  int static_bytes = 0;
  int stack_bytes = 0;
};
MemoryUsed memory_used();

struct Worst {
  double late_us = 0.0;
  uint64_t steps_after = 0;
  int not_latched = 0;
};
Worst worst_of(const std::vector<Trial>& trials);

}  // namespace tests
