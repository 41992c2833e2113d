// What the user may say to `springwright sweep`, and what --again says for them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "controller/cli/bench/bench_setup.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/setting_options.hpp"
#include "protocol/record/sweep_record.hpp"

namespace controller::cli {

struct SweepOptions {
  BenchOptions bench;
  std::string fork_file;
  SettingOptions setting;
  std::optional<double> speed_m_s;
  std::optional<double> to_m;
  std::optional<int> cycles;
  std::optional<int> conditioning;
  std::string speeds;
  std::optional<double> dwell_s;
  int stops = 7;
  std::vector<protocol::SweepPart> program;  // of the last sweep, with --again
  double settle_s = 30.0;
  std::optional<double> settled_s;
  std::optional<double> room_K;
  std::optional<int> mounting;
  std::string clicks;
  std::string until;
  std::string out;
  std::string virtual_faults;
  bool again = false;
  bool yes = false;
  bool dry_run = false;
  bool json = false;
};

void add_sweep_options(CLI::App& app, SweepOptions& options);

// What the option parser cannot require, since --again may supply it. ERRORS: usage.
protocol::Result<void> check_said(const SweepOptions& options);

// The parts that --speeds and --dwell ask for; empty where neither is said. ERRORS: usage.
protocol::Result<std::vector<protocol::SweepPart>> make_program(const SweepOptions& options,
                                                                double usual_speed_m_s);

// The fork of --fork, or with --again that of the last sweep in `records`; what was not said is
// filled in from there.
protocol::Result<protocol::Fork> choose_fork(SweepOptions& options,
                                             const std::filesystem::path& records,
                                             Console& console);

}  // namespace controller::cli
