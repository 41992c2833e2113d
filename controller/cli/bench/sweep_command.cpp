// `springwright sweep`: one fork, one setting, slow strokes, one record.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <cmath>
#include <filesystem>

#include "controller/cli/bench/bench_setup.hpp"
#include "controller/cli/bench/command_stop.hpp"
#include "controller/cli/bench/progress_bar.hpp"
#include "controller/cli/bench/rig_connection.hpp"
#include "controller/cli/bench/running_fit.hpp"
#include "controller/cli/bench/sweep_options.hpp"
#include "controller/cli/bench/sweep_plan.hpp"
#include "controller/cli/bench/terminal_operator.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/safety_words.hpp"
#include "controller/cli/workshop/workshop.hpp"
#include "controller/host/sweep.hpp"

namespace controller::cli {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

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

Result<host::CheckedOff> ask_check_list(const SweepOptions& options, const host::SweepPlan& plan,
                                        host::Operator& person, host::StopSource& stop,
                                        Console& console) {
  if (!options.yes) {
    if (!TerminalOperator::is_present(console)) {
      return Error{Errc::usage,
                   "The check list needs somebody at the keyboard; a script says --yes to it."};
    }
    fmt::print(console.err, "{}\n\n", kSafetyWords);
  }
  return host::go_through(host::check_list(plan.metadata.fork, plan.metadata.setting), person,
                          stop);
}

Result<host::SweepOutcome> sweep_on(RigConnection& connection, const BenchSetup& setup,
                                    const host::SweepPlan& plan, host::Operator& person,
                                    const host::CheckedOff& checked, host::StopSource& stop,
                                    const std::optional<Enough>& enough, Console& console) {
  const Result<void> open = connection.session().open();
  if (!open) return open.error();
  detail(console, fmt::format("Rig {} at {}.", connection.session().rig_id(),
                              connection.session().link().name()));
  const Result<void> scaled = check_scale(setup);
  if (!scaled) return scaled.error();
  host::PressSettings settings;
  settings.acceleration_m_s2 = setup.bench.acceleration_m_s2;
  host::Press press(connection.session(), setup.instruments, settings, stop);
  ProgressBar bar(console);
  protocol::DiskFileSystem files;
  host::SweepHooks hooks;
  hooks.progress = &bar;
  // Outlives the sweep, which tells it. Where nobody looks and nothing depends on it there is none.
  std::optional<RunningFit> running;
  if (enough || console.err_is_terminal) {
    running.emplace(metadata_for_fit(plan, setup),
                    RunningFitPlan{strokes_of(plan), enough, setup.rig_is_virtual()},
                    [&](const std::string& line) {
                      bar.clear();
                      fmt::print(console.err, "{}\n", line);
                    });
    hooks.observer = &*running;
    hooks.enough = &*running;
  }
  host::Sweep sweep(press, files, plan, person, checked, hooks);
  Result<host::SweepOutcome> outcome = sweep.run();
  if (outcome && running) running->finish();
  const protocol::LineCounters line = connection.session().counters();
  detail(console, fmt::format("On the line: {} frames, {} bad, {} bytes skipped.", line.frames,
                              line.bad_frames, line.resync_bytes));
  return outcome;
}

// What a sweep would do, from the check list to the record.
void tell_plan(const host::SweepPlan& plan, const BenchSetup& setup, bool json, Console& console) {
  const double duration_s = host::planned_s(plan, setup.bench.acceleration_m_s2);
  const std::vector<std::string> items =
      host::check_list(plan.metadata.fork, plan.metadata.setting);
  if (json) {
    protocol::Json parts = protocol::Json::array();
    for (const protocol::SweepPart& part : host::parts_of(plan)) {
      parts.push_back({{"speed_mm_s", part.speed_m_s * 1e3},
                       {"cycles", part.cycles},
                       {"stops", part.stops},
                       {"dwell_s", part.dwell_s}});
    }
    console.out << protocol::json_text({{"dry_run", true},
                                        {"rig", setup.rig},
                                        {"record", plan.path.string()},
                                        {"fork", plan.metadata.fork.name},
                                        {"check_list", items},
                                        {"to_mm", plan.to_m * 1e3},
                                        {"force_limit_N", plan.force_max_N},
                                        {"rest_s", plan.settle_s},
                                        {"conditioning_cycles", plan.conditioning_cycles},
                                        {"parts", parts},
                                        {"duration_s", duration_s}});
    return;
  }
  fmt::print(console.out, "Nothing is done. At {} a sweep would ask:\n", setup.rig);
  for (const std::string& item : items) fmt::print(console.out, "  {}\n", item);
  fmt::print(
      console.out,
      "go home, look for the top-out of {}, rest for {:.0f} s, and press it to {:.0f} mm, never "
      "beyond {:.0f} N:\n  {} conditioning cycle{}\n",
      plan.metadata.fork.name, plan.settle_s, plan.to_m * 1e3, plan.force_max_N,
      plan.conditioning_cycles, plan.conditioning_cycles == 1 ? "" : "s");
  for (const protocol::SweepPart& part : host::parts_of(plan)) {
    fmt::print(console.out, "  {} measuring cycle{} at {:.3g} mm/s", part.cycles,
               part.cycles == 1 ? "" : "s", part.speed_m_s * 1e3);
    if (part.dwell_s > 0.0) {
      fmt::print(console.out, ", with rests of {:.0f} s at {} places of each stroke", part.dwell_s,
                 part.stops);
    }
    fmt::print(console.out, "\n");
  }
  fmt::print(console.out, "It would take about {:.0f} min and write {}.\n",
             std::ceil(duration_s / 60.0), plan.path.string());
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

Result<void> run_sweep(const SweepOptions& said, Console& console) {
  const Result<void> sound_options = check_said(said);
  if (!sound_options) return sound_options.error();
  std::optional<Enough> enough_known;
  if (!said.until.empty()) {
    Result<Enough> parsed = parse_enough(said.until);
    if (!parsed) return parsed.error();
    enough_known = std::move(parsed).value();
  }
  SweepOptions options = said;
  const Result<BenchSetup> setup = load_bench_setup(options.bench);
  if (!setup) return setup.error();
  const Result<protocol::Fork> fork = choose_fork(options, record_folder(*setup), console);
  if (!fork) return fork.error();
  Result<protocol::Setting> setting = make_setting(options.setting, *fork);
  if (!setting) return setting.error();
  setting->coupling = setup->bench.coupling;
  host::SweepPlan plan = make_sweep_plan(options, *setup, *fork, *setting);
  Result<std::vector<protocol::SweepPart>> program = make_program(options, plan.speed_m_s);
  if (!program) return program.error();
  plan.program = std::move(program).value();
  plan.path = options.out.empty() ? next_record_path(record_folder(*setup), file_stem(fork->name))
                                  : fs::path(options.out);
  const Result<void> sound = host::check_plan(plan);
  if (!sound) return sound.error();
  const Result<virtual_rig::VirtualRigOptions> pumped = virtual_options(options, *setting);
  if (!pumped) return pumped.error();
  if (options.dry_run) {
    tell_plan(plan, *setup, options.json, console);
    return {};
  }
  // Before the check list: nobody likes to go through it for a port that is not there. Nothing is
  // said to the rig yet.
  Result<RigConnection> connection = RigConnection::connect(setup->rig, *pumped);
  if (!connection) return connection.error();
  for (const std::string& warning : setup->warnings) fmt::print(console.err, "{}\n", warning);

  CommandStop stop(console);
  TerminalOperator terminal(console);
  host::AgreeingOperator agreeing;
  host::Operator& person = options.yes ? static_cast<host::Operator&>(agreeing) : terminal;
  const Result<host::CheckedOff> checked = ask_check_list(options, plan, person, stop, console);
  if (!checked) return checked.error();
  const Result<host::SweepOutcome> outcome =
      sweep_on(*connection, *setup, plan, person, *checked, stop, enough_known, console);
  if (!outcome) return outcome.error();
  answer(*outcome, options.json, console);
  suggest(console, fmt::format("springwright curve {}", outcome->path.string()));
  if (outcome->afterwards) return *outcome->afterwards;
  return {};
}

}  // namespace

void add_sweep(Commands& commands) {
  auto [app, options] = commands.add<SweepOptions>(
      "sweep", "Press a fork slowly through its travel and record force against travel.",
      run_sweep);
  add_sweep_options(app, options);
}

}  // namespace controller::cli
