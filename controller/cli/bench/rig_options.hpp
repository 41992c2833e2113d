// What the commands of `springwright rig` share, and what each of them does.
#pragma once

#include <optional>
#include <string>

#include "controller/cli/bench/bench_setup.hpp"
#include "controller/cli/commands.hpp"

namespace controller::cli {

struct RigOptions {
  BenchOptions bench;
  bool yes = false;
  bool dry_run = false;
  bool json = false;
  bool ask = false;                    // find
  int readings = 80;                   // show
  std::string toward = "compression";  // touch
  double threshold_N = 15.0;
  std::optional<double> way_m;
  std::optional<double> speed_m_s;
  std::optional<double> to_m;  // move
  std::optional<double> by_m;
};

// rig_look.cpp: nothing moves.
protocol::Result<void> run_rig_find(const RigOptions& options, Console& console);
protocol::Result<void> run_rig_show(const RigOptions& options, Console& console);
protocol::Result<void> run_rig_stop(const RigOptions& options, Console& console);

// rig_motion.cpp
protocol::Result<void> run_rig_home(const RigOptions& options, Console& console);
protocol::Result<void> run_rig_touch(const RigOptions& options, Console& console);
protocol::Result<void> run_rig_move(const RigOptions& options, Console& console);

}  // namespace controller::cli
