// `springwright compare`: where one fork is firmer than the other, by how much, and whether that is
// more than the measurement's own doubt.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "controller/cli/answers/model_file.hpp"
#include "controller/cli/answers/model_setting.hpp"
#include "controller/cli/answers/ride_logs.hpp"
#include "controller/cli/answers/sag_options.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "fitting/compare/compare_json.hpp"
#include "fitting/compare/sentences.hpp"
#include "fitting/ride/ridden.hpp"
#include "protocol/record/json_fields.hpp"
#include "protocol/record/record_reader.hpp"

namespace controller::cli {
namespace {

using fitting::Subject;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

struct SideOptions {
  std::string file;
  std::optional<double> pressure_gauge_Pa;
  std::optional<int> spacers;
  std::vector<std::string> again;
};

struct CompareCommandOptions {
  SideOptions a;
  SideOptions b;
  SettingOptions both;  // temperature, air, vent
  SagWords sag;
  std::string ride_a;
  std::string ride_b;
  RideLogOptions ride;
  bool json = false;
};

bool is_model_file(const std::string& path) {
  const std::string ending = ".json";
  return path.size() > ending.size() &&
         path.compare(path.size() - ending.size(), ending.size(), ending) == 0;
}

bool says_circumstances(const SettingOptions& both) {
  return both.temperature_K || both.ambient_pressure_Pa || both.altitude_m || both.vented_at_m ||
         both.vented_pressure_Pa || both.vented_temperature_K;
}

Result<Subject> record_subject(const SideOptions& side, const SettingOptions& both,
                               const std::string& letter) {
  if (says_circumstances(both)) {
    return Error{
        Errc::usage,
        fmt::format("'{}' is a record, and its temperature, air and venting are as tested: "
                    "leave those options out, or give a model.",
                    side.file)};
  }
  if (side.pressure_gauge_Pa || side.spacers) {
    return Error{Errc::usage,
                 fmt::format("'{}' is a record, and its pressure and spacers are as tested: leave "
                             "out --pressure-{} and --spacers-{}, or give a model.",
                             side.file, letter, letter)};
  }
  const Result<protocol::SweepRecord> record = protocol::load_record(side.file);
  if (!record) return record.error();
  Result<fitting::CurveAnswer> answer = fitting::answer_curve(side.file, *record);
  if (!answer) return answer.error();
  Subject subject;
  subject.name = side.file;
  subject.record = *std::move(answer);
  return subject;
}

// Where a setting is not said, the mean pressure of the fitted sweeps and no spacer, with a note.
Result<Subject> model_subject(const SideOptions& side, SettingOptions setting,
                              const std::string& letter, Console& console) {
  const bool negative = side.pressure_gauge_Pa.value_or(0.0) < 0.0 || side.spacers.value_or(0) < 0;
  if (negative) {
    return Error{Errc::usage,
                 fmt::format("neither --pressure-{} nor --spacers-{} can be less than zero.",
                             letter, letter)};
  }
  const Result<fitting::FittedModel> model = load_model(side.file);
  if (!model) return model.error();
  const double pressure_Pa = side.pressure_gauge_Pa.value_or(model->context.mean_pressure_gauge_Pa);
  const bool air = protocol::has_air_spring(model->fork.kind);
  if (air && !side.pressure_gauge_Pa) {
    fmt::print(console.err,
               "Note: --pressure-{} not given: '{}' is asked at {:.1f} psi, the mean of its fitted "
               "sweeps.\n",
               letter, side.file, protocol::in_unit(pressure_Pa, "psi"));
  }
  if (air && !side.spacers) {
    fmt::print(console.err, "Note: --spacers-{} not given: '{}' is asked without spacers.\n",
               letter, side.file);
  }
  Subject subject;
  subject.name = side.file;
  subject.model = fitting::model_subject(*model, pressure_Pa, side.spacers.value_or(0));
  if (says_circumstances(setting)) {
    if (air) {
      setting.pressure_gauge_Pa = pressure_Pa;
      setting.spacers = side.spacers.value_or(0);
    }
    const Result<fitting::PredictionRequest> asked = model_setting(*model, setting);
    if (!asked) return asked.error();
    subject.model->setting = *asked;
  }
  return subject;
}

Result<Subject> load_subject(const SideOptions& side, const SettingOptions& both,
                             const std::string& letter, Console& console) {
  Result<Subject> subject = is_model_file(side.file) ? model_subject(side, both, letter, console)
                                                     : record_subject(side, both, letter);
  if (!subject) return subject;
  for (const std::string& path : side.again) {
    const Result<protocol::SweepRecord> record = protocol::load_record(path);
    if (!record) return record.error();
    Result<fitting::CurveAnswer> answer = fitting::answer_curve(path, *record);
    if (!answer) return answer.error();
    if (answer->metadata.fork.name != subject->fork().name) {
      return Error{
          Errc::usage,
          fmt::format("--again-{}: {} is of '{}', but '{}' of '{}'; give sweeps of the "
                      "same fork.",
                      letter, path, answer->metadata.fork.name, side.file, subject->fork().name)};
    }
    subject->again.push_back(*std::move(answer));
  }
  return subject;
}

// The difference that the rider meets, at matched sag where the sags were matched; none where no
// log was given.
Result<std::optional<fitting::RiddenDifference>> weigh(const CompareCommandOptions& options,
                                                       const Subject& a, const Subject& b,
                                                       const fitting::Comparison& comparison,
                                                       Console& console) {
  std::vector<fitting::TimeByTravel> times;
  for (const auto& [log, subject] : {std::pair{&options.ride_a, &a}, {&options.ride_b, &b}}) {
    if (log->empty()) continue;
    const Result<fitting::RideTrace> trace =
        load_ride(*log, subject->fork().travel_m, options.ride);
    if (!trace) return trace.error();
    tell_remarks(*trace, console.err);
    times.emplace_back(*trace, fitting::kTimeCell_m);
  }
  if (times.empty()) return std::optional<fitting::RiddenDifference>();
  std::vector<const fitting::TimeByTravel*> all;
  for (const fitting::TimeByTravel& time : times) all.push_back(&time);
  const fitting::Difference& difference = comparison.matched_sag.difference
                                              ? *comparison.matched_sag.difference
                                              : comparison.difference;
  return std::optional(fitting::weigh_by_ride(difference, all));
}

std::string ridden_sentence(const fitting::Comparison& comparison,
                            const fitting::RiddenDifference& ridden) {
  const fitting::Names names = fitting::names_of(comparison);
  return fmt::format(
      "Weighted by the time that the ride spent at each travel, {} is the firmer by {:.1f} N +- "
      "{:.1f} N{}; {:.0f} % of the time lies within the travel compared.",
      ridden.mean_N < 0.0 ? names.b : names.a, std::abs(ridden.mean_N),
      ridden.standard_uncertainty_N, comparison.matched_sag.difference ? " at matched sag" : "",
      100.0 * ridden.share_covered);
}

protocol::Json ridden_json(const fitting::Comparison& comparison,
                           const fitting::RiddenDifference& ridden) {
  return {{"of", comparison.matched_sag.difference ? "matched_sag" : "as_compared"},
          {"mean_difference_N", ridden.mean_N},
          {"standard_uncertainty_N", ridden.standard_uncertainty_N},
          {"time_share_covered", ridden.share_covered}};
}

Result<void> run_compare(const CompareCommandOptions& options, Console& console) {
  const Result<fitting::CompareOptions> asked = compare_options(options.sag);
  if (!asked) return asked.error();
  const Result<Subject> a = load_subject(options.a, options.both, "a", console);
  if (!a) return a.error();
  const Result<Subject> b = load_subject(options.b, options.both, "b", console);
  if (!b) return b.error();
  const Result<fitting::Comparison> comparison = fitting::compare(*a, *b, *asked);
  if (!comparison) return comparison.error();
  const auto ridden = weigh(options, *a, *b, *comparison, console);
  if (!ridden) return ridden.error();
  if (options.json) {
    protocol::Json json = fitting::compare_json(*comparison);
    if (*ridden) json["ridden"] = ridden_json(*comparison, **ridden);
    console.out << protocol::json_text(json);
    return {};
  }
  for (const std::string& sentence : fitting::compare_sentences(*comparison)) {
    fmt::print(console.out, "{}\n", sentence);
  }
  if (*ridden) fmt::print(console.out, "{}\n", ridden_sentence(*comparison, **ridden));
  for (const std::string& remark : comparison->remarks) {
    fmt::print(console.err, "Note: {}\n", remark);
  }
  return {};
}

}  // namespace

void add_compare(Commands& commands) {
  auto [app, options] = commands.add<CompareCommandOptions>(
      "compare", "Where one fork is firmer than another, by how much, how surely.", run_compare);
  app.add_option("a", options.a.file, "A record, or a model")
      ->required()
      ->type_name("RECORD.csv|MODEL.json");
  app.add_option("b", options.b.file, "The other")->required()->type_name("RECORD.csv|MODEL.json");
  add_side_setting(app, 'a', options.a.pressure_gauge_Pa, options.a.spacers, "asked, a model");
  add_side_setting(app, 'b', options.b.pressure_gauge_Pa, options.b.spacers, "asked, a model");
  add_circumstances(app, options.both, "as in the fitted sweeps");
  app.add_option(
         "--again-a", options.a.again,
         "Further sweeps of A at one setting, mounted anew in between: their scatter enters "
         "the uncertainty")
      ->type_name("RECORD.csv...");
  app.add_option("--again-b", options.b.again, "Likewise of B")->type_name("RECORD.csv...");
  add_sag_options(app, options.sag);
  add_json(app, options.json);
  app.add_option("--ridden-a", options.ride_a, "Log of a ride on A, to weigh the difference by")
      ->type_name("LOG.csv");
  app.add_option("--ridden-b", options.ride_b, "Log of a ride on B")->type_name("LOG.csv");
  add_ride_log_options(app, options.ride);
  add_examples(app, {"springwright compare models/larch.json models/basalt.json --pressure-a "
                     "\"81 psi\" --spacers-a 1 --pressure-b \"72 psi\" --spacers-b 2 --load "
                     "\"430 N\"",
                     "springwright compare sweeps/larch.csv sweeps/basalt.csv --json"});
}

}  // namespace controller::cli
