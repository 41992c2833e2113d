#include "controller/cli/calibrate/calibrate_guided.hpp"

#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>

#include "calibration/guided/journal.hpp"
#include "calibration/readings_check.hpp"
#include "calibration/standards/weights.hpp"
#include "controller/cli/bench/command_stop.hpp"
#include "controller/cli/calibrate/calibrate_options.hpp"
#include "controller/cli/calibrate/guided_bench.hpp"
#include "controller/cli/safety_words.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {
namespace {

using calibration::GuidedPlan;
using calibration::GuidedSession;
using calibration::Kind;
using calibration::LoadUnit;
using calibration::ReadingSet;
using calibration::SessionJournal;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

constexpr size_t kJournalBytesMax = 1 << 20;

// What the command line says wrongly is a matter of usage.
Result<GuidedPlan> plan_of(const CalibrateOptions& options) {
  const GuidedOptions& guided = options.guided;
  if (guided.loads.empty()) {
    const char* const example = options.kind == Kind::force    ? "0, 5, 10, 20, 30, 40, 50 kg"
                                : options.kind == Kind::travel ? "0, 25, 50, 75, 100, 125, 150 mm"
                                                               : "250, 500, 750, 1000 N";
    return Error{Errc::usage,
                 fmt::format("Which loads? Name them all with --loads \"{}\".", example)};
  }
  const int series = guided.series.value_or(options.kind == Kind::frame ? 2 : 3);
  Result<GuidedPlan> plan = calibration::parse_plan(guided.loads, options.kind, series);
  if (!plan) return Error{Errc::usage, plan.error().message};
  return plan;
}

// Nothing is worse than an hour with weights and then a date that is none.
Result<void> look_ahead(const CalibrateOptions& options, const GuidedPlan& plan) {
  ReadingSet set;
  set.kind = plan.kind;
  std::vector<std::string> warnings;
  if (const auto done = complete_readings(set, options, warnings); !done) return done.error();
  for (const calibration::Standard& standard : set.particulars.standards) {
    if (standard.weight_class.empty()) continue;
    const auto known = calibration::weight_relative_error_limit(standard.weight_class);
    if (!known) return known.error();
  }
  return calibration::check_particulars(set);
}

struct Begun {
  GuidedSession session;
  SessionJournal journal;
};

Result<Begun> begin_new(const CalibrateOptions& options, protocol::FileSystem& files,
                        const std::string& path) {
  if (files.exists(path)) {
    return Error{Errc::output_exists,
                 fmt::format("'{}' holds a session that was begun already. Go on with it: the same "
                             "command and --resume. Or delete it and begin anew.",
                             path)};
  }
  const Result<GuidedPlan> plan = plan_of(options);
  if (!plan) return plan.error();
  if (const auto ahead = look_ahead(options, *plan); !ahead) return ahead.error();
  Result<GuidedSession> session = GuidedSession::start(*plan);
  if (!session) return session.error();
  Result<SessionJournal> journal = SessionJournal::start(files, path, *plan);
  if (!journal) return journal.error();
  return Begun{std::move(session).value(), std::move(journal).value()};
}

Result<Begun> begin_again(const CalibrateOptions& options, protocol::FileSystem& files,
                          const std::string& path, Console& console) {
  if (!files.exists(path)) {
    return Error{Errc::input_missing,
                 fmt::format("there is no session to resume: '{}' does not exist. Leave --resume "
                             "out to begin one.",
                             path)};
  }
  if (files.is_being_written(path)) {
    return Error{Errc::output_exists,
                 fmt::format("'{}' is being written by another session; end that first.", path)};
  }
  const Result<std::string> text = protocol::read_text_file(path, kJournalBytesMax);
  if (!text) return text.error();
  Result<calibration::ResumedSession> resumed = calibration::resume_session(*text, path);
  if (!resumed) return resumed.error();
  const GuidedPlan& old = resumed->session.plan();
  bool is_same =
      old.kind == options.kind && options.guided.series.value_or(old.series) == old.series;
  if (!options.guided.loads.empty()) {
    const Result<GuidedPlan> plan = plan_of(options);
    if (!plan) return plan.error();
    is_same = is_same && plan->loads == old.loads && plan->unit == old.unit;
  }
  if (!is_same) {
    return Error{Errc::usage,
                 fmt::format("'{}' was begun as a {} calibration of {} loads in {} series; resume "
                             "it with the same command, or without --loads and --series.",
                             path, calibration::kind_name(old.kind), old.loads.size(), old.series)};
  }
  if (const auto ahead = look_ahead(options, old); !ahead) return ahead.error();
  if (resumed->dropped_torn_line) {
    fmt::print(console.err, "Warning: the last line of '{}' was torn and is dropped.\n", path);
  }
  Result<SessionJournal> journal = SessionJournal::go_on(files, path, resumed->text);
  if (!journal) return journal.error();
  fmt::print(console.err, "Resumed: {} of {} steps are done.\n",
             resumed->session.taken() + resumed->session.skipped(), resumed->session.steps());
  return Begun{std::move(resumed->session), std::move(journal).value()};
}

// While weights hang nothing moves, so the limits are those of the converter, short of its ends.
host::PressLimits limits_for(const GuidedPlan& plan) {
  host::PressLimits limits = kCalibrationLimits;
  if (plan.kind != Kind::force) return limits;
  constexpr double kAlmostAll_N = 0.98 * 8388607.0 / host::kNominalCountsPerN;
  limits.force_low_N = -kAlmostAll_N;
  limits.force_high_N = kAlmostAll_N;
  return limits;
}

Result<BenchSetup> bench_for(const CalibrateOptions& options, Kind kind) {
  BenchOptions bench;
  bench.rig = options.particulars.rig_id;
  bench.force_calibration = options.guided.force_calibration;
  bench.travel_calibration = options.guided.travel_calibration;
  // Newtons are what is being found out here: nominal ones will do until then.
  bench.without_certificates = kind != Kind::frame;
  Result<BenchSetup> setup = load_bench_setup(bench);
  if (!setup || kind != Kind::frame) return setup;
  if (setup->instruments.force_is_calibrated && setup->instruments.travel_is_calibrated) {
    return setup;
  }
  return Error{Errc::usage,
               "The frame is measured with a calibrated load cell and screw: give "
               "--force-calibration and --travel-calibration, or name both in bench.toml."};
}

Result<void> go_through(const BenchSetup& setup, Begun& begun, Console& console) {
  fmt::print(console.err, "{}\n", kSafetyWords);
  CommandStop stop(console);
  const auto rig = CalibrationRig::open(setup, stop, limits_for(begun.session.plan()));
  if (!rig) return rig.error();
  GuidedBench bench(console, **rig, begun.session, begun.journal);
  return bench.run();
}

}  // namespace

std::string session_path(const CalibrateOptions& options) {
  return options.out + ".session.jsonl";
}

void add_guided_options(CLI::App& app, GuidedOptions& guided, Kind kind) {
  app.add_flag("--guided", guided.guided,
               "Take the readings now, step by step, at the rig that --rig names");
  app.add_option("--loads", guided.loads,
                 kind == Kind::force    ? "Weights in kg, or forces in N by a reference transducer"
                 : kind == Kind::travel ? "Places of the dial or lengths of the blocks"
                                        : "Forces that the rig presses to")
      ->type_name(kind == Kind::force    ? "\"0, 5, 10 kg\""
                  : kind == Kind::travel ? "\"0, 50, 100 mm\""
                                         : "\"250, 500, 750 N\"");
  app.add_option("--series", guided.series,
                 kind == Kind::frame ? "How often [2]" : "How often, up and down [3]");
  add_dry_run(app, guided.dry_run);
  app.add_flag("--resume", guided.resume, "Go on with a guided session that was stopped");
  if (kind != Kind::frame) return;
  app.add_option("--force-calibration", guided.force_calibration,
                 "Certificate of the load cell [as bench.toml says]")
      ->type_name("CERT.json");
  app.add_option("--travel-calibration", guided.travel_calibration,
                 "Certificate of the screw [as bench.toml says]")
      ->type_name("CERT.json");
}

Result<void> tell_guided_plan(const CalibrateOptions& options, Console& console) {
  const Result<BenchSetup> setup = bench_for(options, options.kind);
  if (!setup) return setup.error();
  const Result<GuidedPlan> plan = plan_of(options);
  if (!plan) return plan.error();
  if (const auto ahead = look_ahead(options, *plan); !ahead) return ahead.error();
  const Result<GuidedSession> session = GuidedSession::start(*plan);
  if (!session) return session.error();
  const bool moves = plan->kind != Kind::force;
  if (options.json) {
    console.out << protocol::json_text({{"dry_run", true},
                                        {"rig", setup->rig},
                                        {"certificate", options.out},
                                        {"carriage_moves", moves},
                                        {"loads", plan->loads},
                                        {"unit", calibration::load_unit_name(plan->unit)},
                                        {"series", plan->series},
                                        {"readings", session->steps()}});
    return {};
  }
  fmt::print(console.out,
             "Nothing is done. At {} {} readings would be taken in {} series: ", setup->rig,
             session->steps(), plan->series);
  for (const double load : plan->loads) {
    fmt::print(console.out, "{}{}", load == plan->loads.front() ? "" : ", ",
               calibration::load_text(load, plan->unit));
  }
  fmt::print(console.out, "{}.\n{}\nThe certificate would be {}.\n",
             plan->descending ? ", up and down" : "",
             moves ? "The carriage would move, each time after a question."
                   : "The carriage would not move.",
             options.out);
  return {};
}

Result<ReadingSet> take_guided_readings(CalibrateOptions& options, Console& console) {
  protocol::DiskFileSystem files;
  if (console.is_quiet) {
    return Error{Errc::usage, "A guided calibration is a conversation: leave --quiet out."};
  }
  const std::string path = session_path(options);
  if (files.exists(options.out)) {
    return Error{Errc::output_exists,
                 fmt::format("'{}' exists already; name another certificate.", options.out)};
  }
  const Result<BenchSetup> setup = bench_for(options, options.kind);
  if (!setup) return setup.error();
  options.particulars.rig_id = setup->bench.rig_id.empty() ? setup->rig : setup->bench.rig_id;
  Result<Begun> begun = options.guided.resume ? begin_again(options, files, path, console)
                                              : begin_new(options, files, path);
  if (!begun) return begun.error();
  if (!begun->session.is_done()) {
    if (const Result<void> done = go_through(*setup, *begun, console); !done) {
      // Such as by a port that is not there: there is nothing to go on with.
      const bool nothing_done = begun->session.taken() + begun->session.skipped() == 0;
      if (nothing_done && !options.guided.resume && files.remove(path)) return done.error();
      return Error{
          done.error().code,
          fmt::format("{} {} of {} readings are kept in '{}'; go on with the same command "
                      "and --resume.",
                      done.error().message, begun->session.taken(), begun->session.steps(), path)};
    }
  }
  fmt::print(console.err, "\nAll {} readings are taken. They stay in '{}'.\n",
             begun->session.taken(), path);
  return begun->session.readings();
}

}  // namespace controller::cli
