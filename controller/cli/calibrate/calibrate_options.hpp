// What a user may say to `springwright calibrate force|travel|frame`, and how it meets what the
// readings file and the workshop's bench say.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calibration/readings.hpp"
#include "controller/cli/calibrate/calibrate_guided.hpp"
#include "controller/cli/options.hpp"

namespace CLI {
class App;
}

namespace controller::cli {

struct CalibrateOptions {
  calibration::Kind kind = calibration::Kind::force;
  std::string readings;  // empty: guided
  GuidedOptions guided;
  std::string out;
  std::optional<int> degree;             // not said: chosen by lack of fit
  calibration::Particulars particulars;  // empty: as the file says
  calibration::DeadWeightConditions conditions;
  calibration::Surroundings surroundings;
  calibration::Standard standard;
  std::string supersedes;  // a certificate's file
  std::optional<double> resolution;
  std::string creep;  // a CSV file
  MassOrForce creep_load;
  std::string html;  // the page to write, empty: none
  bool json = false;
};

// Who, when, where, with what; for weights also gravity and air.
void add_particulars(CLI::App& app, CalibrateOptions& options);

// What is said on the command line wins over the set, the set over bench.toml; the date falls back
// to today. Finds the certificate that the new one supersedes. `warnings` gets what the user should
// hear. ERRORS: those of the bench, of the superseded certificate and of the creep file.
protocol::Result<void> complete_readings(calibration::ReadingSet& set,
                                         const CalibrateOptions& options,
                                         std::vector<std::string>& warnings);

}  // namespace controller::cli
