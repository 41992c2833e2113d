// `springwright report`: two fitted forks and their sweeps as one page to print and pass on, with
// every figure and every number beside it.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "controller/cli/answers/model_file.hpp"
#include "controller/cli/answers/report_folder.hpp"
#include "controller/cli/answers/ride_logs.hpp"
#include "controller/cli/answers/sag_options.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/workshop/identity.hpp"
#include "fitting/report/comparison_input.hpp"
#include "protocol/record/json_fields.hpp"
#include "protocol/record/record_reader.hpp"

namespace controller::cli {
namespace {

namespace fs = std::filesystem;

using fitting::NamedRecord;
using protocol::Result;

struct ReportOptions {
  std::string model_a;
  std::string model_b;
  std::vector<std::string> records_a;
  std::vector<std::string> records_b;
  std::string out;
  std::string title;
  SagWords sag;
  std::string units = "metric";
  std::string ride_a;
  std::string ride_b;
  RideLogOptions ride;
  RideQuestionWords ride_asked;
  bool json = false;
};

Result<std::vector<NamedRecord>> load_named(const std::vector<std::string>& paths) {
  std::vector<NamedRecord> records;
  for (const std::string& path : paths) {
    Result<protocol::SweepRecord> record = protocol::load_record(path);
    if (!record) return record.error();
    records.push_back({fs::path(path).stem().string(), *std::move(record)});
  }
  return records;
}

Result<void> read_rides(const ReportOptions& options, fitting::ReportRequest& request) {
  const Result<fitting::RideQuestion> question = ride_question(options.ride_asked);
  if (!question) return question.error();
  request.ride_question = *question;
  const auto read = [&](const std::string& log, const fitting::FittedModel& model,
                        std::optional<fitting::RideTrace>& out) -> Result<void> {
    if (log.empty()) return {};
    Result<fitting::RideTrace> trace = load_ride(log, model.fork.travel_m, options.ride);
    if (!trace) return trace.error();
    out = *std::move(trace);
    return {};
  };
  if (const Result<void> a = read(options.ride_a, request.model_a, request.ride_a); !a) return a;
  return read(options.ride_b, request.model_b, request.ride_b);
}

Result<fitting::ReportRequest> read_request(const ReportOptions& options) {
  fitting::ReportRequest request;
  const Result<fitting::CompareOptions> asked = compare_options(options.sag);
  if (!asked) return asked.error();
  request.compare = *asked;
  Result<fitting::FittedModel> model_a = load_model(options.model_a);
  if (!model_a) return model_a.error();
  Result<fitting::FittedModel> model_b = load_model(options.model_b);
  if (!model_b) return model_b.error();
  Result<std::vector<NamedRecord>> records_a = load_named(options.records_a);
  if (!records_a) return records_a.error();
  Result<std::vector<NamedRecord>> records_b = load_named(options.records_b);
  if (!records_b) return records_b.error();
  request.title = options.title;
  request.name_a = options.model_a;
  request.name_b = options.model_b;
  request.model_a = *std::move(model_a);
  request.model_b = *std::move(model_b);
  request.records_a = *std::move(records_a);
  request.records_b = *std::move(records_b);
  request.units = fitting::reader_units(options.units == "imperial" ? fitting::UnitSystem::imperial
                                                                    : fitting::UnitSystem::metric);
  if (const Result<void> rides = read_rides(options, request); !rides) return rides.error();
  request.program = "springwright " SPRINGWRIGHT_VERSION;
  request.made = today();
  return request;
}

void answer(const ReportOptions& options, const fitting::Report& report, const fs::path& page,
            Console& console) {
  if (options.json) {
    protocol::Json summary = protocol::Json::array();
    for (const fitting::Finding& finding : report.summary) summary.push_back(finding.sentence);
    protocol::Json cautions = report.cautions;
    console.out << protocol::json_text(
        protocol::Json{{"report", page.string()}, {"summary", summary}, {"cautions", cautions}});
    return;
  }
  for (const fitting::Finding& finding : report.summary) {
    fmt::print(console.out, "{}\n", finding.sentence);
  }
  for (const std::string& caution : report.cautions) {
    fmt::print(console.err, "Caution: {}\n", caution);
  }
  fmt::print(console.out, "{}\n", page.string());
}

Result<void> run_report(const ReportOptions& options, Console& console) {
  const fs::path folder = options.out;
  protocol::DiskFileSystem files;
  if (const Result<void> free = check_report_folder(files, folder); !free) return free.error();
  const Result<fitting::ReportRequest> request = read_request(options);
  if (!request) return request.error();
  const Result<fitting::ComparisonInput> input = fitting::make_comparison_input(*request);
  if (!input) return input.error();
  const fitting::Report report = fitting::make_comparison_report(*input);
  if (console.err_is_terminal) {
    fmt::print(console.err, "Drawing {} figures ...\n", fitting::figures_of(report).size());
  }
  const Result<fs::path> page = write_report(files, report, folder);
  if (!page) return page.error();
  answer(options, report, *page, console);
  return {};
}

}  // namespace

void add_report(Commands& commands) {
  auto [app, options] = commands.add<ReportOptions>(
      "report", "Two fitted forks on one page, with figures and data beside it.", run_report);
  app.add_option("--a", options.model_a, "The first fork's model")
      ->required()
      ->type_name("MODEL.json");
  app.add_option("--b", options.model_b, "The second fork's")->required()->type_name("MODEL.json");
  app.add_option("--records-a", options.records_a, "Sweeps of the first fork")
      ->required()
      ->type_name("RECORD.csv...");
  app.add_option("--records-b", options.records_b, "Sweeps of the second")
      ->required()
      ->type_name("RECORD.csv...");
  app.add_option("--out", options.out, "Folder for report.html, figures/ and data/")
      ->required()
      ->type_name("DIR");
  app.add_option("--title", options.title, "Of the page [the forks' names]")->type_name("TEXT");
  app.add_option("--units", options.units, "Of the page, its figures and its data [metric]")
      ->check(CLI::IsMember({"metric", "imperial"}))
      ->type_name("metric|imperial");
  add_sag_options(app, options.sag);
  app.add_option("--ridden-a", options.ride_a, "Log of a ride on the first fork")
      ->type_name("LOG.csv");
  app.add_option("--ridden-b", options.ride_b, "Log of a ride on the second")->type_name("LOG.csv");
  add_ride_question_options(app, options.ride_asked);
  add_ride_log_options(app, options.ride);
  add_json(app, options.json);
  add_examples(app, {"springwright report --a models/larch.json --b models/basalt.json --records-a "
                     "sweeps/larch-*.csv --records-b sweeps/basalt-*.csv --load \"430 N\" --out "
                     "reports/larch-basalt"});
}

}  // namespace controller::cli
