// `springwright sweep`: one fork, one setting, slow strokes, one record.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <cmath>
#include <filesystem>

#include "controller/cli/bench_setup.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/identity.hpp"
#include "controller/cli/last_sweep.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/progress_bar.hpp"
#include "controller/cli/rig_connection.hpp"
#include "controller/cli/safety_words.hpp"
#include "controller/cli/setting_options.hpp"
#include "controller/cli/terminal_operator.hpp"
#include "controller/cli/workshop.hpp"
#include "controller/host/interrupt_key.hpp"
#include "controller/host/sweep.hpp"
#include "protocol/record/fork_file.hpp"

namespace controller::cli {
namespace {

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

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

fs::path record_folder(const BenchSetup& setup) {
  return setup.workshop ? *setup.workshop / "sweeps" : fs::path(".");
}

template <class T>
void take_over(std::optional<T>& option, const T& last) {
  if (!option) option = last;
}

// --again: whatever was not said is as in the last sweep.
Result<void> repeat_last(SweepOptions& options, protocol::Fork& fork, const fs::path& folder) {
  const Result<LastSweep> last = find_last_sweep(folder);
  if (!last) return last.error();
  const protocol::Metadata& metadata = last->metadata;
  const protocol::Setting& setting = metadata.setting;
  if (options.fork_file.empty()) fork = metadata.fork;
  take_over(options.setting.pressure_gauge_Pa, setting.pressure_gauge_Pa);
  take_over(options.setting.spacers, setting.spacers);
  take_over(options.setting.temperature_K, setting.temperature_K);
  if (!options.setting.altitude_m) {
    take_over(options.setting.ambient_pressure_Pa, setting.ambient_pressure_Pa);
  }
  take_over(options.setting.vented_at_m, setting.vent.travel_m);
  take_over(options.setting.vented_pressure_Pa, setting.vent.pressure_Pa);
  take_over(options.setting.vented_temperature_K, setting.vent.temperature_K);
  if (!options.setting.pumped_temperature_K) {
    options.setting.pumped_temperature_K = setting.pumped_temperature_K;
  }
  if (!options.setting.pumped_ambient_pressure_Pa) {
    options.setting.pumped_ambient_pressure_Pa = setting.pumped_ambient_pressure_Pa;
  }
  if (!options.speed_m_s) options.speed_m_s = metadata.speed_m_s;
  take_over(options.conditioning, metadata.conditioning_cycles);
  take_over(options.cycles, std::max(1, metadata.measuring_cycles));
  take_over(options.to_m, last->to_m);
  if (options.clicks.empty()) options.clicks = setting.damper_clicks;
  return {};
}

Result<protocol::Fork> choose_fork(SweepOptions& options, const BenchSetup& setup) {
  protocol::Fork fork;
  if (!options.fork_file.empty()) {
    const Result<protocol::Fork> loaded = protocol::load_fork(options.fork_file);
    if (!loaded) return loaded.error();
    fork = *loaded;
  }
  if (options.again) {
    const Result<void> repeated = repeat_last(options, fork, record_folder(setup));
    if (!repeated) return repeated.error();
  }
  return fork;
}

// Nine tenths and a little of the travel: short of the bottom-out bumper of most forks, in whole
// millimetres. 146 mm of 160.
double default_end_m(const protocol::Fork& fork) {
  return std::floor(fork.travel_m * 73.0 / 80.0 * 1e3 + 1e-6) / 1e3;
}

host::SweepPlan make_plan(const SweepOptions& options, const BenchSetup& setup,
                          const protocol::Fork& fork, const protocol::Setting& setting) {
  host::SweepPlan plan;
  plan.metadata.record_id = new_record_id();
  plan.metadata.created = utc_now();
  plan.metadata.source = setup.rig;
  plan.metadata.rig_id = setup.bench.rig_id;
  plan.metadata.fork = fork;
  plan.metadata.setting = setting;
  plan.metadata.setting.damper_clicks = options.clicks;
  plan.metadata.conditions.settled_s = options.settled_s;
  plan.metadata.conditions.room_temperature_start_K = options.room_K;
  plan.metadata.conditions.mounting = options.mounting;
  for (const std::string& warning : setup.warnings) plan.metadata.remarks.push_back(warning);
  plan.speed_m_s = options.speed_m_s.value_or(setup.bench.speed_m_s);
  plan.to_m = options.to_m.value_or(default_end_m(fork));
  plan.measuring_cycles = options.cycles.value_or(3);
  plan.conditioning_cycles = options.conditioning.value_or(2);
  plan.settle_s = options.settle_s;
  plan.force_max_N = setup.bench.force_max_N;
  plan.travel_max_m = setup.bench.travel_max_m;
  plan.top_out.coupling = setup.bench.coupling;
  plan.force_certificate = setup.force;
  return plan;
}

// A real press with an unknown scale could not be limited in newtons.
Result<void> check_scale(const BenchSetup& setup) {
  if (setup.force || setup.rig_is_virtual()) return {};
  return Error{
      Errc::calibration_unusable,
      "Without a force calibration the rig's force cannot be limited in newtons. Calibrate "
      "the load cell (\"springwright calibrate force\") and give its certificate with "
      "--force-calibration or in bench.toml."};
}

void answer(const host::SweepOutcome& outcome, bool json, Console& console) {
  if (json) {
    protocol::Json answer{
        {"record", outcome.path.string()},      {"rows", outcome.rows},
        {"cycles", outcome.measured_cycles},    {"largest_force_N", outcome.largest_force_N},
        {"lost_samples", outcome.lost_samples}, {"remarks", outcome.remarks}};
    answer["zero_drift_N"] = nullptr;
    if (outcome.zero_drift_N) answer["zero_drift_N"] = *outcome.zero_drift_N;
    console.out << protocol::json_text(answer);
    return;
  }
  fmt::print(console.out, "{}\n", outcome.path.string());
  fmt::print(console.out, "{} measuring cycle{}, {} rows, up to {:.0f} N", outcome.measured_cycles,
             outcome.measured_cycles == 1 ? "" : "s", outcome.rows, outcome.largest_force_N);
  if (outcome.zero_drift_N) {
    fmt::print(console.out, "; the unloaded cell drifted by {:.1f} N", *outcome.zero_drift_N);
  }
  fmt::print(console.out, ".\n");
  for (const std::string& remark : outcome.remarks) {
    fmt::print(console.out, "Note: {}\n", remark);
  }
}

Result<host::SweepOutcome> sweep_on(RigConnection& connection, const BenchSetup& setup,
                                    const host::SweepPlan& plan, host::Operator& person,
                                    const host::CheckedOff& checked, host::StopSource& stop,
                                    Console& console) {
  const Result<void> open = connection.session().open();
  if (!open) return open.error();
  host::PressSettings settings;
  settings.acceleration_m_s2 = setup.bench.acceleration_m_s2;
  host::Press press(connection.session(), setup.instruments, settings, stop);
  ProgressBar bar(console);
  protocol::DiskFileSystem files;
  host::SweepHooks hooks;
  hooks.progress = &bar;
  host::Sweep sweep(press, files, plan, person, checked, hooks);
  return sweep.run();
}

Result<virtual_rig::VirtualRigOptions> virtual_options(const SweepOptions& options,
                                                       const protocol::Setting& setting) {
  virtual_rig::VirtualRigOptions rig;
  rig.setting = setting;
  if (options.virtual_faults.empty()) return rig;
  Result<std::vector<virtual_rig::Fault>> faults =
      virtual_rig::parse_faults(options.virtual_faults);
  if (!faults) return faults.error();
  rig.faults = std::move(faults).value();
  return rig;
}

// What the option parser cannot require, since --again may supply it.
Result<void> check_said(const SweepOptions& options) {
  if (options.again) return {};
  const std::pair<bool, const char*> needed[] = {
      {!options.fork_file.empty(), "--fork"},
      {options.setting.pressure_gauge_Pa.has_value(), "--pressure"},
      {options.setting.spacers.has_value(), "--spacers"}};
  for (const auto& [said, name] : needed) {
    if (said) continue;
    return Error{Errc::usage, fmt::format("{} is required; or --again, to repeat the last sweep of "
                                          "this folder.",
                                          name)};
  }
  return {};
}

Result<void> run_sweep(const SweepOptions& said, Console& console) {
  const Result<void> enough = check_said(said);
  if (!enough) return enough.error();
  if (!said.yes && !TerminalOperator::is_present()) {
    return Error{Errc::usage,
                 "The check list needs somebody at the keyboard; a script says --yes to it."};
  }
  SweepOptions options = said;
  const Result<BenchSetup> setup = load_bench_setup(options.bench);
  if (!setup) return setup.error();
  const Result<protocol::Fork> fork = choose_fork(options, *setup);
  if (!fork) return fork.error();
  Result<protocol::Setting> setting = make_setting(options.setting, *fork);
  if (!setting) return setting.error();
  setting->coupling = setup->bench.coupling;
  host::SweepPlan plan = make_plan(options, *setup, *fork, *setting);
  plan.path = options.out.empty() ? next_record_path(record_folder(*setup), file_stem(fork->name))
                                  : fs::path(options.out);
  Result<void> sound = host::check_plan(plan);
  if (sound) sound = check_scale(*setup);
  if (!sound) return sound.error();
  for (const std::string& warning : setup->warnings) fmt::print(console.err, "{}\n", warning);

  host::InterruptKey stop;
  TerminalOperator terminal(console);
  host::AgreeingOperator agreeing;
  host::Operator& person = options.yes ? static_cast<host::Operator&>(agreeing) : terminal;
  if (!options.yes) fmt::print(console.err, "{}\n\n", kSafetyWords);
  const Result<host::CheckedOff> checked =
      host::go_through(host::check_list(*fork, *setting), person, stop);
  if (!checked) return checked.error();
  const Result<virtual_rig::VirtualRigOptions> pumped = virtual_options(options, *setting);
  if (!pumped) return pumped.error();
  Result<RigConnection> connection = RigConnection::connect(setup->rig, *pumped);
  if (!connection) return connection.error();
  const Result<host::SweepOutcome> outcome =
      sweep_on(*connection, *setup, plan, person, *checked, stop, console);
  if (!outcome) return outcome.error();
  answer(*outcome, options.json, console);
  if (outcome->afterwards) return *outcome->afterwards;
  return {};
}

void add_stroke_options(CLI::App& app, SweepOptions& options) {
  add_quantity(app, "--speed", Dimension::speed, options.speed_m_s,
               "Of the strokes [4 mm/s, or as bench.toml says]");
  app.add_option("--cycles", options.cycles, "Measuring cycles [3]")
      ->check(CLI::Range(1, 1000))
      ->type_name("N");
  app.add_option("--conditioning", options.conditioning,
                 "Cycles before them that only settle the gas [2]")
      ->check(CLI::Range(0, 1000))
      ->type_name("N");
  add_quantity(app, "--to", Dimension::length, options.to_m,
               "Far end of each stroke [nine tenths of the fork's travel: 146 mm of 160]");
  add_quantity(app, "--settle", Dimension::time, options.settle_s,
               "Rest at full extension before the first stroke [30 s]");
}

void add_condition_options(CLI::App& app, SweepOptions& options) {
  add_quantity(app, "--settled", Dimension::time, options.settled_s,
               "How long the fork has rested since it was pumped");
  add_quantity(app, "--room-temperature", Dimension::temperature, options.room_K,
               "Of the room, beside the fork's own");
  app.add_option("--mounting", options.mounting, "How often the fork was mounted anew")
      ->type_name("N");
  app.add_option("--clicks", options.clicks, "Damper clicks, as the fork names them")
      ->type_name("TEXT");
}

}  // namespace

void add_sweep(Commands& commands) {
  auto [app, options] = commands.add<SweepOptions>(
      "sweep", "Press a fork slowly through its travel and record force against travel.",
      run_sweep);
  add_bench_options(app, options.bench);
  app.add_option("--fork", options.fork_file, "The fork's own file")->type_name("FORK.toml");
  add_setting_options(app, options.setting);
  app.get_option("--pressure")->required(false);
  app.get_option("--spacers")->required(false);
  add_pumped_options(app, options.setting);
  add_stroke_options(app, options);
  add_condition_options(app, options);
  app.add_flag("--again", options.again,
               "Repeat the last sweep of this folder; what is said besides wins");
  app.add_flag("--yes", options.yes, "Say yes to the check list and to every question");
  app.add_option("--out", options.out,
                 "The record to write, never overwritten [sweeps/NAME-NNN.csv of the workshop "
                 "folder, or NAME-NNN.csv]")
      ->type_name("RECORD.csv");
  app.add_option("--virtual-faults", options.virtual_faults,
                 "What shall go wrong in a virtual rig, such as \"unplug@20 s\"")
      ->type_name("KIND@WHEN,...");
  add_json(app, options.json);
  add_examples(app, {"springwright sweep --rig virtual:larch_plant.toml --fork forks/larch.toml "
                     "--pressure \"81 psi\" --spacers 1 --yes",
                     "springwright sweep --rig /dev/serial/by-id/usb-rig-1 --fork forks/larch.toml "
                     "--pressure \"81 psi\" --spacers 1 --to \"146 mm\" --cycles 5",
                     "springwright sweep --again --pressure \"70 psi\""});
  app.footer(app.get_footer() + "\n\n" + kSafetyWords);
}

}  // namespace controller::cli
