#include "controller/cli/workshop/csv_options.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "protocol/record/csv_columns.hpp"

namespace controller::cli {
namespace {

using protocol::CsvColumn;
using protocol::Dimension;
using protocol::Result;

// "travel=NAME:UNIT"; the name may hold anything but an equals sign at its place.
void read_column(const std::string& text, protocol::CsvImportOptions& csv) {
  const auto refuse = [&](const std::string& why) {
    throw CLI::ValidationError("--column",
                               fmt::format("'{}' {}; write travel=NAME:UNIT, force=NAME:UNIT or "
                                           "time=NAME:UNIT",
                                           text, why));
  };
  const size_t equals = text.find('=');
  const std::string quantity = text.substr(0, equals);
  if (text == "time=none") {
    csv.without_time = true;
    return;
  }
  const bool known = quantity == "travel" || quantity == "force" || quantity == "time";
  if (equals == std::string::npos || !known) refuse("names no quantity");
  const size_t colon = text.rfind(':');
  if (colon == std::string::npos || colon <= equals + 1) refuse("has no name and unit");
  const CsvColumn column{text.substr(equals + 1, colon - equals - 1), text.substr(colon + 1)};
  const Dimension dimension = quantity == "travel"  ? Dimension::length
                              : quantity == "force" ? Dimension::force
                                                    : Dimension::time;
  const Result<protocol::Unit> unit = protocol::column_unit(column, dimension);
  if (!unit) throw CLI::ValidationError("--column", unit.error().message);
  std::optional<CsvColumn>& target = quantity == "travel"  ? csv.travel
                                     : quantity == "force" ? csv.force
                                                           : csv.time;
  if (target) refuse(fmt::format("says {} a second time", quantity));
  target = column;
}

char read_mark(const char* option, const std::string& text) {
  if (text == "tab" || text == "\\t") return '\t';
  if (text.size() != 1) {
    throw CLI::ValidationError(option, fmt::format("'{}' is not one character (or tab)", text));
  }
  return text[0];
}

}  // namespace

void add_csv_options(CLI::App& app, protocol::CsvImportOptions& csv) {
  app.add_option_function<std::vector<std::string>>(
         "--column",
         [&csv](const std::vector<std::string>& columns) {
           for (const std::string& column : columns) read_column(column, csv);
         },
         "Which column is travel, force or time, and its unit; time=none passes time over")
      ->type_name("QUANTITY=NAME:UNIT")
      ->expected(1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll)
      ->allow_extra_args(false);
  app.add_option_function<std::string>(
         "--separator",
         [&csv](const std::string& text) { csv.separator = read_mark("--separator", text); },
         "Between fields, such as \";\" or tab [,]")
      ->type_name("C");
  app.add_option_function<std::string>(
         "--decimal",
         [&csv](const std::string& text) { csv.decimal = read_mark("--decimal", text); },
         "Decimal mark, \".\" or \",\" [.]")
      ->type_name("C");
}

}  // namespace controller::cli
