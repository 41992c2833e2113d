// What the campaign makes go wrong, when, and how it must end.
#pragma once

#include <array>
#include <string_view>
#include <variant>

#include "controller/virtual_rig/faults.hpp"
#include "tests/campaign/struck_line.hpp"

namespace tests::campaign {

enum class HostFault {
  killed,         // no line of it runs any more
  suspended,      // it does nothing for three seconds, and then goes on
  operator_stop,  // the key is pressed
};

enum class DiskFault { full, fails_once, read_only };

enum class ChipFault { hangs };

using Strike =
    std::variant<LineFault, controller::virtual_rig::FaultKind, HostFault, DiskFault, ChipFault>;

// When it strikes. Calibration is a job of its own, the others are phases of a sweep.
enum class Phase {
  hello,
  homing,
  calibration,
  conditioning,
  measuring,
  dwell,
  returning,
  finishing
};
inline constexpr std::array kPhaseNames = {"hello",     "homing", "calibration", "conditioning",
                                           "measuring", "dwell",  "returning",   "finishing"};
inline constexpr int kPhases = static_cast<int>(kPhaseNames.size());

enum class Ending {
  stops,    // the job fails, with one of these exit codes and in these words
  goes_on,  // the job ends well, what the record says is true, and what the line lost is counted
  either,   // as it happens: each of the two as above
};

struct FaultRow {
  std::string_view name;
  Strike strike;
  Ending ending;
  std::string_view exits;  // "4", "5 7"
  std::string_view words;  // one of them, separated by |
  double amount = 0.0;     // as in FaultKind
  // Phases in which it does no harm, as bits: then it must go on or may.
  unsigned harmless = 0;
};

constexpr unsigned in(Phase phase) {
  return 1u << static_cast<unsigned>(phase);
}

const std::vector<FaultRow>& fault_rows();

}  // namespace tests::campaign
