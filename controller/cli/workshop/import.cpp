// `springwright import`: a sweep record out of a CSV file that something else wrote.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>

#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "controller/cli/setting_options.hpp"
#include "controller/cli/workshop/csv_options.hpp"
#include "controller/cli/workshop/identity.hpp"
#include "controller/cli/workshop/input_text.hpp"
#include "protocol/record/csv_import.hpp"
#include "protocol/record/fork_file.hpp"
#include "protocol/record/record_writer.hpp"

namespace controller::cli {
namespace {

using protocol::Error;
using protocol::Result;
namespace fs = std::filesystem;

constexpr size_t kBytesMax = size_t{256} << 20;

struct ImportOptions {
  std::string file;
  std::string fork_file;
  std::string out;
  SettingOptions setting;
  protocol::CsvImportOptions csv;
  std::string start = "equilibrium";
  std::string coupling = "clamped";
  std::optional<int> mounting;
  bool json = false;
};

protocol::SweepRecord make_record(const ImportOptions& options, protocol::ImportedRows rows,
                                  const protocol::Fork& fork, const protocol::Setting& setting) {
  protocol::SweepRecord record;
  record.metadata.record_id = new_record_id();
  record.metadata.created = utc_now();
  record.metadata.origin = "import";
  record.metadata.source = fs::path(input_name(options.file)).filename().string();
  record.metadata.fork = fork;
  record.metadata.setting = setting;
  record.metadata.setting.start =
      options.start == "cycled" ? protocol::GasStart::cycled : protocol::GasStart::equilibrium;
  record.metadata.setting.coupling =
      options.coupling == "push" ? protocol::Coupling::push : protocol::Coupling::clamped;
  record.metadata.conditions.mounting = options.mounting;
  record.metadata.single_stroke = options.csv.single_stroke;
  record.metadata.remarks = std::move(rows.remarks);
  record.time_s = std::move(rows.time_s);
  record.travel_m = std::move(rows.travel_m);
  record.force_N = std::move(rows.force_N);
  return record;
}

void answer(const ImportOptions& options, const protocol::SweepRecord& record, Console& console) {
  const auto [low, high] = std::minmax_element(record.travel_m.begin(), record.travel_m.end());
  const double largest_N = *std::max_element(record.force_N.begin(), record.force_N.end());
  if (options.json) {
    console.out << protocol::json_text({{"record", options.out},
                                        {"record_id", record.metadata.record_id},
                                        {"samples", record.size()},
                                        {"has_time", record.has_time()},
                                        {"single_stroke", record.metadata.single_stroke},
                                        {"travel_min_mm", protocol::in_unit(*low, "mm")},
                                        {"travel_max_mm", protocol::in_unit(*high, "mm")},
                                        {"force_max_N", largest_N},
                                        {"warnings", record.metadata.remarks}});
    return;
  }
  fmt::print(console.out, "Wrote {}: {} samples {}, travel {:.1f} to {:.1f} mm, up to {:.0f} N.\n",
             options.out, record.size(), record.has_time() ? "with time" : "without time",
             protocol::in_unit(*low, "mm"), protocol::in_unit(*high, "mm"), largest_N);
  for (const std::string& remark : record.metadata.remarks) {
    fmt::print(console.err, "Note: {}\n", remark);
  }
}

Result<void> run_import(const ImportOptions& options, Console& console) {
  const Result<protocol::Fork> fork = protocol::load_fork(options.fork_file);
  if (!fork) return fork.error();
  const Result<protocol::Setting> setting = make_setting(options.setting, *fork);
  if (!setting) return setting.error();
  const Result<std::string> text = read_input(options.file, kBytesMax);
  if (!text) return text.error();
  Result<protocol::ImportedRows> rows =
      protocol::import_csv(*text, input_name(options.file), options.csv, *fork);
  if (!rows) return rows.error();
  protocol::SweepRecord record = make_record(options, std::move(rows).value(), *fork, *setting);
  record.metadata.source_sha256 = protocol::sha256_hex(*text);
  protocol::DiskFileSystem files;
  const Result<void> written = protocol::write_record(files, options.out, record);
  if (!written) return written.error();
  answer(options, record, console);
  suggest(console, fmt::format("springwright curve {}", options.out));
  return {};
}

}  // namespace

void add_import(Commands& commands) {
  auto [app, options] = commands.add<ImportOptions>(
      "import", "Make a sweep record out of a CSV file with travel and force.", run_import);
  app.add_option(
         "file", options.file,
         "CSV file with a header line, or - for the standard input; rows in the order measured")
      ->required()
      ->type_name("FILE.csv");
  app.add_option("--fork", options.fork_file, "The fork's own file")
      ->required()
      ->type_name("FORK.toml");
  app.add_option("--out", options.out, "The record to write; never overwritten")
      ->required()
      ->type_name("RECORD.csv");
  add_setting_options(app, options.setting);
  add_pumped_options(app, options.setting);
  app.add_option("--start", options.start,
                 "The gas at the first row: at rest, or as left by cycles")
      ->check(CLI::IsMember({"equilibrium", "cycled"}))
      ->type_name("equilibrium|cycled");
  app.add_option("--coupling", options.coupling, "Axle clamped, or only pushed")
      ->check(CLI::IsMember({"clamped", "push"}))
      ->type_name("clamped|push");
  add_mounting_option(app, options.mounting);
  add_csv_options(app, options.csv);
  app.add_flag("--single-stroke", options.csv.single_stroke,
               "A one-way curve: no half-loop, friction not determined");
  add_json(app, options.json);
  add_examples(app,
               {"springwright import larch.csv --fork forks/larch.toml --pressure \"81 psi\" "
                "--spacers 1 --out sweeps/larch-81.csv",
                "springwright import other.csv --fork forks/larch.toml --pressure \"5.6 bar\" "
                "--spacers 0 --out sweeps/other.csv --separator \";\" --decimal \",\" --column "
                "travel=Weg:mm --column force=Kraft:N --column time=Zeit:s"});
}

}  // namespace controller::cli
