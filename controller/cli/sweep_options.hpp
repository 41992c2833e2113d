// What the user may say to `springwright sweep`, and what --again says for them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "controller/cli/bench_setup.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/setting_options.hpp"

namespace controller::cli {

struct SweepOptions {
  BenchOptions bench;
  std::string fork_file;
  SettingOptions setting;
  std::optional<double> speed_m_s;
  std::optional<double> to_m;
  std::optional<int> cycles;
  std::optional<int> conditioning;
  double settle_s = 30.0;
  std::optional<double> settled_s;
  std::optional<double> room_K;
  std::optional<int> mounting;
  std::string clicks;
  std::string out;
  std::string virtual_faults;
  bool again = false;
  bool yes = false;
  bool json = false;
};

void add_sweep_options(CLI::App& app, SweepOptions& options);

// What the option parser cannot require, since --again may supply it. ERRORS: usage.
protocol::Result<void> check_said(const SweepOptions& options);

// The fork of --fork, or with --again that of the last sweep in `records`; what was not said is
// filled in from there.
protocol::Result<protocol::Fork> choose_fork(SweepOptions& options,
                                             const std::filesystem::path& records,
                                             Console& console);

}  // namespace controller::cli
