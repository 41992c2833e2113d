// The bench of a command that moves the rig: bench.toml of the workshop folder, the certificates
// in use, and the instruments that they make.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "calibration/calibration.hpp"
#include "controller/host/instruments.hpp"

namespace CLI {
class App;
}

namespace controller::cli {

struct BenchOptions {
  std::string rig;  // a port, or virtual:FILE; empty: as the bench says
  std::string force_calibration;
  std::string travel_calibration;
  std::string frame_calibration;
  bool without_certificates = false;  // what they say is being found out
};

// --rig and the three certificates.
void add_bench_options(CLI::App& app, BenchOptions& options);

struct BenchSetup {
  protocol::Bench bench;
  std::optional<std::filesystem::path> workshop;
  std::string rig;
  std::optional<calibration::Calibration> force;
  host::Instruments instruments;
  std::vector<std::string> warnings;  // certificates expired, superseded or of another rig

  bool rig_is_virtual() const { return rig.rfind("virtual:", 0) == 0; }
};

// Whether a force certificate is of the mounted cell; where either is not named, nothing is said.
// ERRORS: calibration_unusable.
protocol::Result<void> check_cell(const calibration::Calibration& certificate,
                                  const std::filesystem::path& path, const std::string& cell_id);

// The same against the bench of the workshop that the command is called in, if there is one.
protocol::Result<void> check_mounted_cell(const calibration::Calibration& certificate,
                                          const std::filesystem::path& path);

// What the command line says wins over bench.toml. ERRORS: usage where no rig is named; those of
// bench files and certificates.
protocol::Result<BenchSetup> load_bench_setup(const BenchOptions& options);

}  // namespace controller::cli
