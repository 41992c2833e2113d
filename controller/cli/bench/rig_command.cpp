// `springwright rig ...`: the command line of looking at the rig and moving it by hand.
#include <CLI/CLI.hpp>

#include "controller/cli/bench/rig_options.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/safety_words.hpp"

namespace controller::cli {
namespace {

using protocol::Dimension;
using protocol::Result;

struct Added {
  CLI::App& app;
  RigOptions& options;
};

Added add_rig_command(Commands& commands, CLI::App& group, const std::string& name,
                      const std::string& summary, Result<void> (*run)(const RigOptions&, Console&),
                      const std::vector<std::string>& examples) {
  auto [app, options] = commands.add<RigOptions>(name, summary, run, &group);
  if (name != "find") add_bench_options(app, options.bench);
  add_json(app, options.json);
  add_examples(app, examples);
  return {app, options};
}

void add_motion_command(const Added& added) {
  add_dry_run(added.app, added.options.dry_run);
  added.app.add_flag("--yes", added.options.yes, "Agree to the motion beforehand");
  added.app.footer(added.app.get_footer() + "\n\n" + kSafetyWords);
}

void add_touch(Commands& commands, CLI::App& group) {
  const Added touch_command =
      add_rig_command(commands, group, "touch", "Home, then go on until a force is felt.",
                      run_rig_touch, {"springwright rig touch --threshold \"20 N\" --yes"});
  auto& [app, options] = touch_command;
  app.add_option("--toward", options.toward, "Which way [compression]")
      ->check(CLI::IsMember({"compression", "extension"}))
      ->type_name("compression|extension");
  add_quantity(app, "--threshold", Dimension::force, options.threshold_N,
               "Change of force that counts as touched [15 N]");
  add_quantity(app, "--way", Dimension::length, options.way_m, "At most so far");
  add_quantity(app, "--speed", Dimension::speed, options.speed_m_s, "How fast [2 mm/s]");
  add_motion_command(touch_command);
}

void add_move(Commands& commands, CLI::App& group) {
  const Added move_command = add_rig_command(
      commands, group, "move", "Home and go to a position, or a little way by hand.", run_rig_move,
      {"springwright rig move --to \"50 mm\" --yes", "springwright rig move --by \"-2 mm\" --yes"});
  auto& [app, options] = move_command;
  add_quantity(app, "--to", Dimension::length, options.to_m,
               "Position from the home switch; looks for home first");
  add_quantity(app, "--by", Dimension::length, options.by_m,
               "At most 5 mm from here, off a tripped limit switch");
  add_quantity(app, "--speed", Dimension::speed, options.speed_m_s, "How fast [4 mm/s]");
  add_motion_command(move_command);
}

}  // namespace

void add_rig(Commands& commands) {
  CLI::App& group = commands.add_group("rig", "Find, look at and move the rig by hand.");
  group.footer(kSafetyWords);
  const Added find = add_rig_command(commands, group, "find", "List the ports of this computer.",
                                     run_rig_find, {"springwright rig find --ask"});
  find.app.add_flag("--ask", find.options.ask, "Say hello at each, to see which is a rig");
  const Added show = add_rig_command(commands, group, "show",
                                     "Who the rig is, its load cell's reading and its faults.",
                                     run_rig_show, {"springwright rig show --rig /dev/ttyUSB0"});
  show.app.add_option("--readings", show.options.readings, "Readings to average [80]")
      ->check(CLI::Range(1, 100000))
      ->type_name("N");
  add_motion_command(add_rig_command(commands, group, "home", "Find the home switch.", run_rig_home,
                                     {"springwright rig home --yes"}));
  add_touch(commands, group);
  add_move(commands, group);
  add_rig_command(commands, group, "stop", "Stop the rig, whoever moves it.", run_rig_stop,
                  {"springwright rig stop"});
}

}  // namespace controller::cli
