// The readings of a check, taken from the rig: the cell unloaded, then under the known weight.
#pragma once

#include <string>

#include "controller/cli/commands.hpp"

namespace controller::cli {

struct CheckReading {
  double zero_counts = 0.0;
  double counts = 0.0;
};

// `rig` empty: as bench.toml says. Nothing moves; a person hangs the weight and says so, or a
// virtual rig hangs it by itself. ERRORS: usage where nobody is at the keyboard of a real rig;
// stopped_by_operator; of the rig, and where its readings are too unsteady to be a zero.
protocol::Result<CheckReading> read_check(const std::string& rig, const std::string& certificate,
                                          double load_N, const std::string& load_words,
                                          Console& console);

}  // namespace controller::cli
