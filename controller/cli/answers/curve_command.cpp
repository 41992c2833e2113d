// `springwright curve`: what measured records say by themselves, without a model.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "controller/cli/answers/figure_file.hpp"
#include "controller/cli/answers/loop_figure.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "fitting/curve/curve_json.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/json_fields.hpp"
#include "protocol/record/record_reader.hpp"

namespace controller::cli {
namespace {

using fitting::CurveAnswer;
using fitting::Quantity;
using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

struct CurveOptions {
  std::vector<std::string> records;
  std::string figure_file;
  fitting::QuantityOptions quantities;
  fitting::LoopOptions loop;
  std::optional<double> backlash_m;
  double backlash_doubt_m = 0.0;
  bool json = false;
};

Result<std::vector<CurveAnswer>> answer_all(const CurveOptions& options) {
  fitting::LoopOptions loop = options.loop;
  if (options.backlash_m) {
    loop.backlash = protocol::Backlash{*options.backlash_m, options.backlash_doubt_m};
  }
  std::vector<CurveAnswer> answers;
  for (const std::string& path : options.records) {
    const Result<protocol::SweepRecord> record = protocol::load_record(path);
    if (!record) return record.error();
    Result<CurveAnswer> answer = fitting::answer_curve(path, *record, loop, options.quantities);
    if (!answer) return answer.error();
    answers.push_back(*std::move(answer));
  }
  return answers;
}

std::string value_text(const Quantity& quantity) {
  if (!quantity.value) return "-";
  if (!quantity.standard_uncertainty) return fmt::format("{:.4g}", *quantity.value);
  return fmt::format("{:.4g} +- {:.2g}", *quantity.value, *quantity.standard_uncertainty);
}

void print_answer(const CurveAnswer& answer, Console& console) {
  fmt::print(console.out, "{}: {}\n", answer.name, answer.metadata.fork.name);
  for (const Quantity& quantity : answer.quantities) {
    fmt::print(console.out, "  {:<26} {:>20}{}{}\n", quantity.name, value_text(quantity),
               quantity.note.empty() ? "" : "   ", quantity.note);
  }
  for (const std::string& remark : answer.loop.remarks) {
    fmt::print(console.err, "Note: {}: {}.\n", answer.name, remark);
  }
}

Result<void> run_curve(const CurveOptions& options, Console& console) {
  // Wrong words and a file in the way are said before any work.
  if (const Result<void> free = check_figure_file(options.figure_file); !free) return free.error();
  const Result<std::vector<CurveAnswer>> answers = answer_all(options);
  if (!answers) return answers.error();
  if (!options.figure_file.empty()) {
    const Result<void> drawn = write_figure(loop_figure(*answers), options.figure_file);
    if (!drawn) return drawn.error();
  }
  if (options.json) {
    console.out << protocol::json_text(fitting::curve_json(*answers));
    return {};
  }
  for (const CurveAnswer& answer : *answers) print_answer(answer, console);
  return {};
}

}  // namespace

void add_curve(Commands& commands) {
  auto [app, options] = commands.add<CurveOptions>(
      "curve", "What records say by themselves: forces, rate, sag, work, loss.", run_curve);
  app.add_option("records", options.records, "Sweep records")->required()->type_name("RECORD.csv");
  app.add_option("--figure", options.figure_file, "Draw the loops into a new file")
      ->type_name("FILE.svg|.png|.pdf");
  add_quantity(app, "--load", Dimension::force, options.quantities.load_N,
               "Load along the fork, for its sag");
  add_quantity(app, "--work-to", Dimension::length, options.quantities.work_travel_m,
               "Travel up to which work is given, besides the whole");
  add_quantity(app, "--thermal-time", Dimension::time, options.loop.thermal_time_s,
               "Of the gas, from a fit: marks what depends on the speed");
  add_quantity(app, "--backlash", Dimension::length, options.backlash_m,
               "Lost motion of the drive, corrected in rebound [as the record's certificate says]");
  add_quantity(app, "--backlash-uncertainty", Dimension::length, options.backlash_doubt_m,
               "Its standard uncertainty");
  add_json(app, options.json);
  add_examples(app, {"springwright curve sweeps/larch-81psi.csv --load \"430 N\"",
                     "springwright curve sweeps/*.csv --json --figure loop.svg"});
}

}  // namespace controller::cli
