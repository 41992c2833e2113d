// `springwright calibrate force|travel|frame --guided`: the readings are taken step by step, by a
// person at the rig.
#pragma once

#include <string>
#include <vector>

#include "calibration/readings.hpp"
#include "controller/cli/bench/bench_setup.hpp"
#include "controller/cli/commands.hpp"

namespace controller::cli {

struct CalibrateOptions;

struct GuidedOptions {
  bool guided = false;
  bool resume = false;
  bool dry_run = false;
  std::string loads;              // empty with resume: as the journal says
  std::optional<int> series;      // not said: 3, or 2 for a frame
  std::string force_calibration;  // for a frame, which is measured with both
  std::string travel_calibration;
};

// --guided, --loads, --series, --resume; for a frame the certificates that it is measured with.
void add_guided_options(CLI::App& app, GuidedOptions& guided, calibration::Kind kind);

// Where the session is kept: beside the certificate.
std::string session_path(const CalibrateOptions& options);

// For --dry-run: what would be read at which rig. ERRORS: as of the session itself.
protocol::Result<void> tell_guided_plan(const CalibrateOptions& options, Console& console);

// Goes through the session and keeps its journal. With a guided session `--rig` names the port;
// the options come back with the rig's own name in that place. ERRORS: usage; output_exists where
// certificate or journal is there already; stopped_by_operator, with how to go on; of the rig.
protocol::Result<calibration::ReadingSet> take_guided_readings(CalibrateOptions& options,
                                                               Console& console);

}  // namespace controller::cli
