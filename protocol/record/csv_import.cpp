#include "protocol/record/csv_import.hpp"

#include <fmt/format.h>

#include <cmath>

#include "protocol/record/csv_columns.hpp"
#include "protocol/record/csv_reader.hpp"
#include "protocol/record/path_checks.hpp"

namespace protocol {
namespace {

Result<void> check_separators(const CsvImportOptions& options) {
  const std::string_view reserved{"\r\n\"", 3};
  if (options.decimal != '.' && options.decimal != ',') {
    return Error{Errc::usage,
                 fmt::format("'{}' is no decimal mark; give \".\" or \",\".", options.decimal)};
  }
  if (options.separator == options.decimal) {
    return Error{Errc::usage,
                 fmt::format("'{}' cannot both separate fields and mark decimals; with decimal "
                             "commas the separator is mostly \";\": --separator \";\" --decimal "
                             "\",\".",
                             options.decimal)};
  }
  if (reserved.find(options.separator) != std::string_view::npos) {
    return Error{Errc::usage, "a line end or a quote cannot separate fields."};
  }
  return {};
}

// What a wrong text suggests about the file.
std::string number_hint(const std::string& text, char decimal) {
  if (decimal == '.' && text.find(',') != std::string::npos) {
    return " If commas mark decimals here, give --decimal \",\" (and the file's --separator).";
  }
  if (decimal == ',' && text.find('.') != std::string::npos) {
    return " The decimal mark was given as \",\"; points, also between thousands, are not read.";
  }
  return "";
}

// A finite number of a field, in SI.
Result<double> read_number(const CsvReader& csv, const CsvField& field, const ImportColumn& column,
                           char decimal) {
  std::string text = field.text;
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.pop_back();
  text.erase(0, text.find_first_not_of(" \t"));
  if (text.empty()) {
    return Error{
        Errc::input_malformed,
        fmt::format("{}: the field of column '{}' is empty; every row needs a number there.",
                    csv.place(field), column.name)};
  }
  std::string plain = text;
  const bool foreign_mark = decimal == ',' && plain.find('.') != std::string::npos;
  if (decimal == ',') {
    const size_t mark = plain.find(',');
    if (mark != std::string::npos) plain[mark] = '.';
  }
  if (plain.size() > 1 && plain[0] == '+' && plain[1] != '-') plain.erase(0, 1);
  const Result<double> number = parse_number(plain);
  if (!number || foreign_mark) {
    return Error{Errc::input_malformed,
                 fmt::format("{}: '{}' is not a number for column '{}'.{}", csv.place(field), text,
                             column.name, number_hint(text, decimal))};
  }
  if (!std::isfinite(*number)) {
    return Error{Errc::input_malformed,
                 fmt::format("{}: '{}' in column '{}' is not a finite number; leave out the rows "
                             "where nothing was measured.",
                             csv.place(field), text, column.name)};
  }
  return *number * column.unit.factor;
}

Error wrong_field_count(const CsvReader& csv, const std::vector<CsvField>& fields, size_t wanted,
                        const CsvImportOptions& options) {
  const bool too_many = fields.size() > wanted;
  const char* hint = too_many && options.separator == ','
                         ? " If its commas mark decimals, they cannot be told from separators: "
                           "write the file with another separator and give --separator \";\" "
                           "--decimal \",\"."
                         : "";
  return Error{Errc::input_malformed,
               fmt::format("{}: {} field{}, where the header has {}.{}",
                           csv.place(fields[too_many ? wanted : fields.size() - 1]), fields.size(),
                           fields.size() == 1 ? "" : "s", wanted, hint)};
}

Result<void> read_row(const CsvReader& csv, const std::vector<CsvField>& fields,
                      const ImportColumns& columns, char decimal, ImportedRows& rows) {
  const Result<double> travel_m =
      read_number(csv, fields[columns.travel.index], columns.travel, decimal);
  if (!travel_m) return travel_m.error();
  rows.travel_m.push_back(*travel_m);
  if (columns.force) {
    const Result<double> force_N =
        read_number(csv, fields[columns.force->index], *columns.force, decimal);
    if (!force_N) return force_N.error();
    rows.force_N.push_back(*force_N);
  }
  if (!columns.time) return {};
  const CsvField& field = fields[columns.time->index];
  const Result<double> time_s = read_number(csv, field, *columns.time, decimal);
  if (!time_s) return time_s.error();
  if (!rows.time_s.empty() && *time_s < rows.time_s.back()) {
    return Error{Errc::record_unusable,
                 fmt::format("{}: time goes back from {} to {} s; rows must stand in the order of "
                             "measuring.",
                             csv.place(field), rows.time_s.back(), *time_s)};
  }
  rows.time_s.push_back(*time_s);
  return {};
}

}  // namespace

Result<ImportedRows> import_csv(std::string_view text, const std::string& name,
                                const CsvImportOptions& options, const Fork& fork) {
  const Result<void> sane = check_separators(options);
  if (!sane) return sane.error();
  constexpr std::string_view kUtf16Marks[] = {"\xFF\xFE", "\xFE\xFF"};
  if (text.substr(0, 2) == kUtf16Marks[0] || text.substr(0, 2) == kUtf16Marks[1]) {
    return Error{Errc::input_malformed,
                 fmt::format("{}:1:1: this is UTF-16 text; save the file as UTF-8.", name)};
  }
  CsvReader csv(text, name, options.separator);
  std::vector<CsvField> fields;
  Result<bool> more = csv.next(fields);
  if (!more) return more.error();
  if (!*more) {
    return Error{Errc::input_malformed,
                 fmt::format("{}:1:1: the file is empty; a header line such as "
                             "\"time_s,travel_mm,force_N\" and rows are wanted.",
                             name)};
  }
  const Result<ImportColumns> columns = find_columns(csv, fields, text, options);
  if (!columns) return columns.error();
  const size_t width = fields.size();
  ImportedRows rows;
  while ((more = csv.next(fields)) && *more) {
    if (fields.size() != width) return wrong_field_count(csv, fields, width, options);
    const Result<void> read = read_row(csv, fields, *columns, options.decimal, rows);
    if (!read) return read.error();
  }
  if (!more) return more.error();
  // Whoever asks for no force checks the path in his own way.
  if (options.without_force) return rows;
  const Result<void> usable = check_path(rows, name, *columns, options.single_stroke, fork);
  if (!usable) return usable.error();
  return rows;
}

}  // namespace protocol
