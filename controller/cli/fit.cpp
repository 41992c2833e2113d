// `springwright fit`: the sweeps of one fork fitted together, and the model file that comes of it.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "fitting/model/model_json.hpp"
#include "fitting/solve/fork_fit.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/record_reader.hpp"

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
  bool json = false;
};

Result<std::vector<protocol::SweepRecord>> load_records(const std::vector<std::string>& paths) {
  std::vector<protocol::SweepRecord> records;
  for (const std::string& path : paths) {
    Result<protocol::SweepRecord> record = protocol::load_record(path);
    if (!record) return record.error();
    records.push_back(std::move(record).value());
  }
  return records;
}

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
}

void answer(const FitOptions& options, const FittedModel& model, Console& console) {
  if (options.json) {
    console.out << protocol::json_text(fitting::model_document(model));
    return;
  }
  fmt::print(console.out, "{}: {} sweeps, {} samples, residual {:.2f} N rms, gas law {}.\n",
             model.fork.name, options.records.size(), model.samples, model.rms_residual_N,
             fitting::gas_law_name(model.law));
  fmt::print(console.out, "Value +- total standard uncertainty:\n");
  for (const FittedParameter& parameter : model.parameters) print_parameter(parameter, console);
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
  const Result<std::vector<protocol::SweepRecord>> records = load_records(options.records);
  if (!records) return records.error();
  if (console.err_is_terminal) {
    fmt::print(console.err, "Fitting {} sweeps from many starting points ...\n", records->size());
  }
  const Result<FittedModel> model = fitting::fit_fork(*records);
  if (!model) return model.error();
  const std::string text = protocol::json_text(fitting::model_document(*model));
  const Result<void> written = protocol::write_new_file(files, options.out, text);
  if (!written) return written.error();
  answer(options, *model, console);
  if (model->usable) return {};
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
  add_json(app, options.json);
  add_examples(app, {"springwright fit sweeps/larch-*.csv --out models/larch.json",
                     "springwright fit sweeps/larch-81.csv --out models/larch.json --json"});
}

}  // namespace controller::cli
