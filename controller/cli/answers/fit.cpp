// `springwright fit`: the sweeps of one fork fitted together, and the model file that comes of it.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "controller/cli/answers/load_records.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "fitting/model/loop_split.hpp"
#include "fitting/model/model_json.hpp"
#include "fitting/solve/fork_fit.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {
namespace {

using fitting::FittedModel;
using fitting::FittedParameter;
using fitting::ParameterStatus;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

struct FitOptions {
  std::vector<std::string> records;
  std::string out;
  int bootstrap_replicates = 0;
  bool json = false;
};

void print_parameter(const FittedParameter& parameter, Console& console) {
  const std::string name =
      parameter.sweep.empty() ? parameter.name : parameter.name + " " + parameter.sweep;
  if (parameter.status == ParameterStatus::not_determined) {
    fmt::print(console.out, "  {:<26} not determined: {}\n", name, parameter.reason);
    return;
  }
  fmt::print(console.out, "  {:<26} {:>9.4g} +- {:<8.2g} {:<6} (statistical {:.2g})", name,
             parameter.value, parameter.standard_uncertainty, parameter.unit,
             parameter.statistical_uncertainty);
  if (parameter.status != ParameterStatus::fitted) {
    fmt::print(console.out, "  {}", fitting::status_name(parameter.status));
  }
  if (!parameter.reason.empty()) fmt::print(console.out, ": {}", parameter.reason);
  fmt::print(console.out, "\n");
  if (!parameter.profile) return;
  const auto end = [](const std::optional<double>& at) {
    return at ? fmt::format("{:.4g}", *at) : std::string("open");
  };
  fmt::print(console.out, "  {:<26} {:.0f} % profile from {} to {} {}, from the data alone\n", "",
             100.0 * parameter.profile->confidence, end(parameter.profile->low),
             end(parameter.profile->high), parameter.unit);
}

// The forms that were tried, where there was a choice.
void print_choice(const FittedModel& model, Console& console) {
  if (model.laws_tried.size() < 2) return;
  fmt::print(
      console.out,
      "Forms of the law tried (information criterion above the best, structured residual):\n");
  for (const fitting::LawTried& tried : model.laws_tried) {
    fmt::print(console.out, "  {:<17} {:<38} {:>9.1f} {:>8.2f} N{}\n",
               fitting::gas_law_name(tried.law), tried.elements, tried.criterion,
               tried.structured_residual_N, tried.criterion == 0.0 ? "  taken" : "");
  }
}

void print_loop(const FittedModel& model, Console& console) {
  if (!model.usable) return;
  const auto split = fitting::split_loop(
      model, fitting::like_fitted(model, model.context.mean_pressure_gauge_Pa, 0));
  if (split) fmt::print(console.out, "{}\n", fitting::split_sentence(*split));
}

void print_bootstrap(const FittedModel& model, Console& console) {
  if (!model.bootstrap || !model.bootstrap->refused.empty()) return;
  fmt::print(console.out, "{} draws of whole strokes (of {}) scatter by:\n",
             model.bootstrap->replicates, model.bootstrap->strokes);
  for (std::size_t i = 0; i < model.bootstrap->standard_uncertainty.size(); ++i) {
    fmt::print(console.out, "  {:<26} {:.2g} {}\n", model.parameters[i].name,
               model.bootstrap->standard_uncertainty[i], model.parameters[i].unit);
  }
}

void answer(const FitOptions& options, const FittedModel& model, Console& console) {
  if (options.json) {
    console.out << protocol::json_text(fitting::model_document(model));
    return;
  }
  fmt::print(console.out, "{}: {} sweep{}, {} samples, residual {:.2f} N rms, gas law {}.\n",
             model.fork.name, options.records.size(), options.records.size() == 1 ? "" : "s",
             model.samples, model.rms_residual_N, fitting::gas_law_name(model.law));
  fmt::print(console.out, "Value +- total standard uncertainty:\n");
  for (const FittedParameter& parameter : model.parameters) print_parameter(parameter, console);
  print_choice(model, console);
  print_loop(model, console);
  print_bootstrap(model, console);
  for (const std::string& warning : model.warnings) {
    fmt::print(console.err, "Note: {}\n", warning);
  }
  fmt::print(console.out, "Wrote {}{}.\n", options.out, model.usable ? "" : ", marked not usable");
}

Result<void> run_fit(const FitOptions& options, Console& console) {
  protocol::DiskFileSystem files;
  if (files.exists(options.out)) {
    return Error{Errc::output_exists,
                 fmt::format("{} exists already; nothing is overwritten, choose another name.",
                             options.out)};
  }
  const Result<std::vector<protocol::SweepRecord>> records = load_records(options.records, console);
  if (!records) return records.error();
  if (console.err_is_terminal) {
    fmt::print(console.err, "Fitting {} sweeps from many starting points ...\n", records->size());
  }
  fitting::FitOptions how;
  how.profiles = true;
  how.bootstrap_replicates = options.bootstrap_replicates;
  const Result<FittedModel> model = fitting::fit_fork(*records, how);
  if (!model) return model.error();
  const std::string text = protocol::json_text(fitting::model_document(*model));
  const Result<void> written = protocol::write_new_file(files, options.out, text);
  if (!written) return written.error();
  answer(options, *model, console);
  if (model->usable) {
    suggest(console,
            fmt::format("springwright predict {} --pressure ... --spacers ..., or compare it "
                        "with another fork's model.",
                        options.out));
    return {};
  }
  return Error{
      Errc::fit_not_usable,
      fmt::format("the fit is not usable: {}",
                  model->warnings.empty() ? "see the model file." : model->warnings.front())};
}

}  // namespace

void add_fit(Commands& commands) {
  auto [app, options] = commands.add<FitOptions>(
      "fit", "Fit the air spring to the sweeps of one fork, and say what is known.", run_fit);
  app.add_option("records", options.records, "Records of one fork, at one or more settings")
      ->required()
      ->type_name("RECORD.csv...");
  app.add_option("--out", options.out, "The model to write; never overwritten")
      ->required()
      ->type_name("MODEL.json");
  app.add_option("--bootstrap", options.bootstrap_replicates,
                 "Draw whole strokes anew this many times, and say how the parameters scatter")
      ->check(CLI::Range(2, 100000))
      ->type_name("N");
  add_json(app, options.json);
  add_examples(app, {"springwright fit sweeps/larch-*.csv --out models/larch.json",
                     "springwright fit sweeps/larch-81.csv --out models/larch.json --json"});
}

}  // namespace controller::cli
