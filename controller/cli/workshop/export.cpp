// `springwright export`: a record as a spreadsheet. A CSV file's points and commas mean something
// else in another country's settings; in an OpenDocument file (ISO/IEC 26300, the flat form) each
// cell says that it is a number.
#include <fmt/ostream.h>

#include <CLI/CLI.hpp>

#include "controller/cli/commands.hpp"
#include "controller/cli/options.hpp"
#include "fitting/report/html.hpp"
#include "protocol/record/file_system.hpp"
#include "protocol/record/json_fields.hpp"
#include "protocol/record/record_reader.hpp"

namespace controller::cli {
namespace {

using protocol::Result;
using protocol::SweepRecord;

struct ExportOptions {
  std::string record;
  std::string out;
  bool json = false;
};

std::string text_cell(const std::string& text) {
  return fmt::format(
      "<table:table-cell office:value-type=\"string\"><text:p>{}</text:p></table:table-cell>",
      fitting::html::escaped(text));
}

// The shortest text that reads back to the same number.
std::string number_cell(double value) {
  return fmt::format("<table:table-cell office:value-type=\"float\" office:value=\"{}\"/>", value);
}

std::string sheet_row(const std::string& cells) {
  return "<table:table-row>" + cells + "</table:table-row>\n";
}

std::string one_sheet(const std::string& name, const std::string& rows) {
  return fmt::format("<table:table table:name=\"{}\">\n{}</table:table>\n", name, rows);
}

std::string rows_sheet(const SweepRecord& record) {
  struct Column {
    const char* name;
    const std::vector<double>& values;
    double scale;
  };
  std::vector<Column> columns;
  if (!record.time_s.empty()) columns.push_back({"time_s", record.time_s, 1.0});
  columns.push_back({"travel_mm", record.travel_m, 1e3});
  columns.push_back({"force_N", record.force_N, 1.0});
  std::string cells = record.stroke.empty() ? "" : text_cell("stroke");
  for (const Column& column : columns) cells += text_cell(column.name);
  std::string rows = sheet_row(cells);
  for (std::size_t i = 0; i < record.size(); ++i) {
    cells = record.stroke.empty() ? "" : number_cell(record.stroke[i]);
    for (const Column& column : columns) cells += number_cell(column.values[i] * column.scale);
    rows += sheet_row(cells);
  }
  return one_sheet("rows", rows);
}

std::string about_sheet(const protocol::Metadata& about) {
  const auto line = [](const char* what, const std::string& cell) {
    return sheet_row(text_cell(what) + cell);
  };
  std::string rows = line("record", text_cell(about.record_id)) +
                     line("begun (UTC)", text_cell(about.created)) +
                     line("fork", text_cell(about.fork.name)) +
                     line("travel_mm", number_cell(about.fork.travel_m * 1e3)) +
                     line("pressure_gauge_Pa", number_cell(about.setting.pressure_gauge_Pa)) +
                     line("spacers", number_cell(about.setting.spacers)) +
                     line("temperature_K", number_cell(about.setting.temperature_K)) +
                     line("ambient_pressure_Pa", number_cell(about.setting.ambient_pressure_Pa));
  for (const std::string& remark : about.remarks) rows += line("remark", text_cell(remark));
  if (!about.unusable_reason.empty()) {
    rows += line("ruled out", text_cell(about.unusable_reason));
  }
  return one_sheet("about", rows);
}

std::string spreadsheet(const SweepRecord& record) {
  return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
         "<office:document xmlns:office=\"urn:oasis:names:tc:opendocument:xmlns:office:1.0\" "
         "xmlns:table=\"urn:oasis:names:tc:opendocument:xmlns:table:1.0\" "
         "xmlns:text=\"urn:oasis:names:tc:opendocument:xmlns:text:1.0\" office:version=\"1.3\" "
         "office:mimetype=\"application/vnd.oasis.opendocument.spreadsheet\">\n"
         "<office:body><office:spreadsheet>\n" +
         rows_sheet(record) + about_sheet(record.metadata) +
         "</office:spreadsheet></office:body></office:document>\n";
}

Result<void> run_export(const ExportOptions& options, Console& console) {
  const Result<SweepRecord> record =
      protocol::load_record(options.record, protocol::UnusableRecords::accept);
  if (!record) return record.error();
  protocol::DiskFileSystem files;
  const Result<void> written = protocol::write_new_file(files, options.out, spreadsheet(*record));
  if (!written) return written.error();
  if (options.json) {
    console.out << protocol::json_text({{"spreadsheet", options.out}, {"rows", record->size()}});
  } else {
    fmt::print(console.out, "Wrote {}: {} rows.\n", options.out, record->size());
  }
  return {};
}

}  // namespace

void add_export(Commands& commands) {
  auto [app, options] = commands.add<ExportOptions>(
      "export", "A record as a spreadsheet that opens alike in every country.", run_export);
  app.add_option("record", options.record, "The record's CSV file")
      ->required()
      ->type_name("RECORD.csv");
  app.add_option("--out", options.out, "The OpenDocument file to write; never overwritten")
      ->required()
      ->type_name("SHEET.fods");
  add_json(app, options.json);
  add_examples(app, {"springwright export sweeps/larch-160-001.csv --out larch.fods"});
}

}  // namespace controller::cli
