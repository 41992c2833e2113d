// `springwright compare`: where one fork is firmer than the other, by how much, and whether that is
// more than the measurement's own doubt.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>

#include "controller/cli/commands.hpp"
#include "controller/cli/model_file.hpp"
#include "controller/cli/options.hpp"
#include "fitting/compare/compare_json.hpp"
#include "fitting/compare/sentences.hpp"
#include "protocol/record/json_fields.hpp"
#include "protocol/record/record_reader.hpp"

namespace controller::cli {
namespace {

using fitting::Subject;
using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

struct SideOptions {
  std::string file;
  std::optional<double> pressure_gauge_Pa;
  std::optional<int> spacers;
};

struct CompareCommandOptions {
  SideOptions a;
  SideOptions b;
  std::optional<double> load_N;
  std::string sag;
  std::optional<double> rider_mass_kg;
  std::optional<double> bike_mass_kg;
  std::optional<double> front_share;
  std::optional<double> head_angle_rad;
  std::optional<double> unsprung_mass_kg;
  bool json = false;
};

bool is_model_file(const std::string& path) {
  const std::string ending = ".json";
  return path.size() > ending.size() &&
         path.compare(path.size() - ending.size(), ending.size(), ending) == 0;
}

Result<Subject> record_subject(const SideOptions& side, const std::string& letter) {
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
Result<Subject> model_subject(const SideOptions& side, const std::string& letter,
                              Console& console) {
  const bool negative = side.pressure_gauge_Pa.value_or(0.0) < 0.0 || side.spacers.value_or(0) < 0;
  if (negative) {
    return Error{Errc::usage,
                 fmt::format("neither --pressure-{} nor --spacers-{} can be less than zero.",
                             letter, letter)};
  }
  const Result<fitting::FittedModel> model = load_model(side.file);
  if (!model) return model.error();
  const double pressure_Pa = side.pressure_gauge_Pa.value_or(model->context.mean_pressure_gauge_Pa);
  if (!side.pressure_gauge_Pa) {
    fmt::print(console.err,
               "Note: --pressure-{} not given: '{}' is asked at {:.1f} psi, the mean of its fitted "
               "sweeps.\n",
               letter, side.file, protocol::in_unit(pressure_Pa, "psi"));
  }
  if (!side.spacers) {
    fmt::print(console.err, "Note: --spacers-{} not given: '{}' is asked without spacers.\n",
               letter, side.file);
  }
  Subject subject;
  subject.name = side.file;
  subject.model = fitting::model_subject(*model, pressure_Pa, side.spacers.value_or(0));
  return subject;
}

Result<Subject> load_subject(const SideOptions& side, const std::string& letter, Console& console) {
  return is_model_file(side.file) ? model_subject(side, letter, console)
                                  : record_subject(side, letter);
}

Result<void> read_sag(const std::string& text, fitting::SagOptions& out) {
  if (text.empty()) return {};
  const Result<double> share = protocol::parse_quantity(text, Dimension::fraction);
  const Result<double> travel_m = protocol::parse_quantity(text, Dimension::length);
  if (!share && !travel_m) {
    const Error& first = share.error();
    return Error{Errc::usage, fmt::format("--sag: {} A travel such as \"30 mm\" is understood too.",
                                          first.message)};
  }
  const bool possible = share ? *share > 0.0 && *share < 1.0 : *travel_m > 0.0;
  if (!possible) {
    return Error{Errc::usage, fmt::format("--sag \"{}\" is not between full extension and full "
                                          "travel.",
                                          text)};
  }
  if (share) out.sag_share = *share;
  if (!share) out.sag_m = *travel_m;
  return {};
}

Result<fitting::SagOptions> sag_options(const CompareCommandOptions& options) {
  fitting::SagOptions out;
  const Result<void> sag = read_sag(options.sag, out);
  if (!sag) return sag.error();
  if (options.load_N && *options.load_N <= 0.0) {
    return Error{Errc::usage, "--load must be positive: it presses the fork together."};
  }
  if (options.load_N && options.rider_mass_kg) {
    return Error{Errc::usage, "--load and --rider-mass both say the load; give one of them."};
  }
  out.load_N = options.load_N;
  const bool details = options.bike_mass_kg || options.front_share || options.head_angle_rad ||
                       options.unsprung_mass_kg;
  if (!options.rider_mass_kg) {
    if (!details) return out;
    return Error{Errc::usage,
                 "--bike-mass, --front-share, --head-angle and --unsprung-mass belong to "
                 "--rider-mass, which is missing."};
  }
  fitting::Rider rider;
  rider.rider_mass_kg = *options.rider_mass_kg;
  rider.bike_mass_kg = options.bike_mass_kg.value_or(rider.bike_mass_kg);
  rider.front_share = options.front_share.value_or(rider.front_share);
  rider.head_angle_rad = options.head_angle_rad.value_or(rider.head_angle_rad);
  rider.unsprung_mass_kg = options.unsprung_mass_kg.value_or(rider.unsprung_mass_kg);
  const Result<double> load_N = fitting::load_along_fork_N(rider);
  if (!load_N) return load_N.error();
  out.rider = rider;
  return out;
}

Result<void> run_compare(const CompareCommandOptions& options, Console& console) {
  fitting::CompareOptions compare_options;
  const Result<fitting::SagOptions> sag = sag_options(options);
  if (!sag) return sag.error();
  compare_options.sag = *sag;
  const Result<Subject> a = load_subject(options.a, "a", console);
  if (!a) return a.error();
  const Result<Subject> b = load_subject(options.b, "b", console);
  if (!b) return b.error();
  const Result<fitting::Comparison> comparison = fitting::compare(*a, *b, compare_options);
  if (!comparison) return comparison.error();
  if (options.json) {
    console.out << protocol::json_text(fitting::compare_json(*comparison));
    return {};
  }
  for (const std::string& sentence : fitting::compare_sentences(*comparison)) {
    fmt::print(console.out, "{}\n", sentence);
  }
  for (const std::string& remark : comparison->remarks) {
    fmt::print(console.err, "Note: {}\n", remark);
  }
  return {};
}

void add_rider_options(CLI::App& app, CompareCommandOptions& options) {
  add_quantity(app, "--rider-mass", Dimension::mass, options.rider_mass_kg,
               "Instead of --load: the load follows from the rider");
  add_quantity(app, "--bike-mass", Dimension::mass, options.bike_mass_kg, "[14 kg]");
  add_quantity(app, "--front-share", Dimension::fraction, options.front_share,
               "Of rider and bicycle, on the front wheel [45 %]");
  add_quantity(app, "--head-angle", Dimension::angle, options.head_angle_rad,
               "Against the ground [65 deg]");
  add_quantity(app, "--unsprung-mass", Dimension::mass, options.unsprung_mass_kg,
               "Of the front: wheel, tyre, lower legs [2.5 kg]");
}

}  // namespace

void add_compare(Commands& commands) {
  auto [app, options] = commands.add<CompareCommandOptions>(
      "compare", "Where one fork is firmer than another, by how much, how surely.", run_compare);
  app.add_option("a", options.a.file, "A record, or a model")
      ->required()
      ->type_name("RECORD.csv|MODEL.json");
  app.add_option("b", options.b.file, "The other")->required()->type_name("RECORD.csv|MODEL.json");
  add_quantity(app, "--pressure-a", Dimension::pressure, options.a.pressure_gauge_Pa,
               "Gauge pressure at which model A is asked");
  app.add_option("--spacers-a", options.a.spacers, "Its volume spacers")->type_name("N");
  add_quantity(app, "--pressure-b", Dimension::pressure, options.b.pressure_gauge_Pa,
               "Gauge pressure at which model B is asked");
  app.add_option("--spacers-b", options.b.spacers, "Its volume spacers")->type_name("N");
  add_quantity(app, "--load", Dimension::force, options.load_N,
               "Along the fork, for the sag [what A carries at its sag]");
  app.add_option("--sag", options.sag, "Wanted, of each fork's travel or as a travel [20 %]")
      ->type_name("\"N %\"|\"N mm\"");
  add_rider_options(app, options);
  add_json(app, options.json);
  add_examples(app, {"springwright compare models/larch.json models/basalt.json --pressure-a "
                     "\"81 psi\" --spacers-a 1 --pressure-b \"72 psi\" --spacers-b 2 --load "
                     "\"430 N\"",
                     "springwright compare sweeps/larch.csv sweeps/basalt.csv --json"});
}

}  // namespace controller::cli
