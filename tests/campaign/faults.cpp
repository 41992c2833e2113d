#include "tests/campaign/faults.hpp"

namespace tests::campaign {

using controller::virtual_rig::FaultKind;

namespace {

constexpr unsigned kAtHello = in(Phase::hello);
constexpr unsigned kAtCalibration = in(Phase::calibration);
// The rig is homed once more at the end.
constexpr unsigned kBeforeHomed = in(Phase::hello) | in(Phase::homing);

}  // namespace

// A fault that strikes after its last chance to do harm is harmless, whatever the phase: the run
// judges that by the rows.
const std::vector<FaultRow>& fault_rows() {
  static const std::vector<FaultRow> kRows = {
      // The line.
      {"cable pulled", LineFault::gone, Ending::stops, "4", "gone"},
      {"cable cut", LineFault::deaf, Ending::stops, "4", "silent|does not answer|nothing at all"},
      {"garbage bytes", LineFault::garbage_bytes, Ending::goes_on, "", ""},
      {"dropped bytes", LineFault::dropped_bytes, Ending::goes_on, "", ""},
      {"duplicated bytes", LineFault::duplicated_bytes, Ending::goes_on, "", ""},
      {"damaged frames", LineFault::damaged_frames, Ending::goes_on, "", ""},
      {"forged load", LineFault::forged_load, Ending::stops, "5",
       "the force is|end of its range|jumped|unsteady", 0.0, kAtHello},
      {"forged position", LineFault::forged_position, Ending::either, "5",
       "the carriage is at|lost steps"},
      {"forged number", LineFault::forged_number, Ending::either, "5", "no reading"},
      {"forged time", LineFault::forged_time, Ending::stops, "5", "clock went back|no reading", 0.0,
       kAtHello},
      {"late replies", LineFault::late_replies, Ending::goes_on, "", ""},
      {"lost requests", LineFault::lost_requests, Ending::goes_on, "", ""},
      {"damaged requests", LineFault::damaged_requests, Ending::goes_on, "", ""},
      // The rig.
      {"brown-out", FaultKind::brown_out, Ending::stops, "5", "restarted|position is unknown", 0.0,
       kAtHello},
      {"main loop hangs", ChipFault::hangs, Ending::stops, "4 5",
       "restarted|main loop|silent|does not answer", 0.0, kAtHello},
      {"load cell frozen", FaultKind::stuck_load_cell, Ending::stops, "5", "frozen|same reading"},
      {"load cell saturated", FaultKind::saturated_load_cell, Ending::stops, "5",
       "end of its range"},
      {"load cell silent", FaultKind::silent_load_cell, Ending::stops, "5",
       "silent|no reading|sends no readings"},
      {"load cell noisy", FaultKind::noisy_load_cell, Ending::stops, "5",
       "unsteady|jumped|the force is|force", 60.0},
      {"load cell reversed", FaultKind::reversed_load_cell, Ending::stops, "5",
       "not felt|jumped|force|unsteady|drifted", 0.0, kAtCalibration},
      {"lost steps", FaultKind::lost_steps, Ending::stops, "5", "lost steps|force|home switch",
       400.0, kBeforeHomed | kAtCalibration},
      {"low switch stuck", FaultKind::stuck_low_switch, Ending::stops, "5",
       "limit switch|homing|switch", 0.0, kAtCalibration},
      {"high switch stuck", FaultKind::stuck_high_switch, Ending::stops, "5", "limit switch"},
      {"low switch dead", FaultKind::dead_low_switch, Ending::stops, "5",
       "switch|homing|takes much longer", 0.0, kAtCalibration},
      {"high switch dead", FaultKind::dead_high_switch, Ending::goes_on, "", ""},
      {"emergency stop", FaultKind::emergency_stop, Ending::stops, "5", "emergency stop"},
      // This computer.
      {"host killed", HostFault::killed, Ending::stops, "", ""},
      {"host suspended", HostFault::suspended, Ending::stops, "5", "This computer did nothing", 0.0,
       kAtHello},
      {"operator's stop", HostFault::operator_stop, Ending::stops, "5", "operator"},
      {"disk full", DiskFault::full, Ending::stops, "7", "no space left", 0.0, kAtCalibration},
      {"disk fails once", DiskFault::fails_once, Ending::stops, "7", "no space left", 0.0,
       kAtCalibration},
      {"folder read-only", DiskFault::read_only, Ending::either, "7", "read-only|Permission"},
  };
  return kRows;
}

}  // namespace tests::campaign
