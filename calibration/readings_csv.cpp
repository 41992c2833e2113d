// Readings as CSV: one header line, comma, decimal point, one reading a line.
#include <fmt/format.h>

#include <optional>
#include <vector>

#include "calibration/readings_columns.hpp"
#include "calibration/readings_file.hpp"

namespace calibration {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view kBlank = " \t\r";
  const size_t first = text.find_first_not_of(kBlank);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kBlank) - first + 1);
}

// The lines of a text that hold anything, with their numbers; a byte order mark is passed over.
class Lines {
 public:
  explicit Lines(std::string_view text) : rest_(text) {
    constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";
    if (rest_.substr(0, kByteOrderMark.size()) == kByteOrderMark) {
      rest_.remove_prefix(kByteOrderMark.size());
    }
  }

  std::optional<std::string_view> next() {
    while (!rest_.empty()) {
      ++number_;
      const size_t end = std::min(rest_.find('\n'), rest_.size());
      const std::string_view line = trimmed(rest_.substr(0, end));
      rest_.remove_prefix(std::min(end + 1, rest_.size()));
      if (!line.empty()) return line;
    }
    return std::nullopt;
  }
  int number() const { return number_; }

 private:
  std::string_view rest_;
  int number_ = 0;
};

// No reading needs a comma or a quote inside a field, so quotes are only taken off.
std::vector<std::string_view> split_fields(std::string_view line) {
  std::vector<std::string_view> fields;
  for (size_t start = 0; start <= line.size();) {
    const size_t comma = std::min(line.find(',', start), line.size());
    std::string_view field = trimmed(line.substr(start, comma - start));
    if (field.size() >= 2 && field.front() == '"' && field.back() == '"') {
      field = field.substr(1, field.size() - 2);
    }
    fields.push_back(field);
    start = comma + 1;
  }
  return fields;
}

Result<std::vector<Column>> read_header(std::string_view line, Kind kind) {
  std::vector<Column> columns;
  int readings = 0;
  int references = 0;
  std::vector<std::string_view> seen;
  for (const std::string_view name : split_fields(line)) {
    const Result<Column> column = find_column(kind, name);
    if (!column) return column.error();
    for (const std::string_view earlier : seen) {
      if (earlier == name) {
        return Error{Errc::input_malformed, fmt::format("column '{}' stands twice.", name)};
      }
    }
    seen.push_back(name);
    readings += column->role == Column::Role::reading ? 1 : 0;
    references += column->role == Column::Role::reference || column->role == Column::Role::mass;
    columns.push_back(*column);
  }
  if (readings != 1 || references != 1) {
    return Error{Errc::input_malformed,
                 fmt::format("the header must name one column of readings and one of the standard; "
                             "{} readings have: {}.",
                             kind_name(kind), column_list(kind))};
  }
  return columns;
}

Result<void> read_field(Reading& reading, const Column& column, std::string_view field) {
  if (column.role == Column::Role::direction) return put_direction(reading, field);
  const Result<double> number = protocol::parse_number(field);
  if (!number) return number.error();
  return put_number(reading, column, *number);
}

}  // namespace

Result<ReadingSet> parse_readings_csv(const std::string& text, const std::string& name, Kind kind) {
  ReadingSet set;
  set.kind = kind;
  std::optional<std::vector<Column>> columns;
  for (Lines lines(text); const std::optional<std::string_view> line = lines.next();) {
    const std::string place = fmt::format("{}:{}", name, lines.number());
    if (!columns) {
      Result<std::vector<Column>> header = read_header(*line, kind);
      if (!header) return protocol::at(place, header.error());
      columns = *header;
      continue;
    }
    const std::vector<std::string_view> fields = split_fields(*line);
    if (fields.size() != columns->size()) {
      return protocol::at(place, Error{Errc::input_malformed,
                                       fmt::format("{} fields where the header has {} columns.",
                                                   fields.size(), columns->size())});
    }
    Reading reading;
    reading.line = lines.number();
    for (size_t i = 0; i < fields.size(); ++i) {
      const Result<void> read = read_field(reading, (*columns)[i], fields[i]);
      if (!read) return protocol::at(fmt::format("{}:{}", place, i + 1), read.error());
    }
    set.readings.push_back(reading);
  }
  if (set.readings.empty()) {
    return protocol::at(name, Error{Errc::input_malformed, "holds no readings."});
  }
  return set;
}

Result<std::vector<CreepReading>> parse_creep_csv(const std::string& text,
                                                  const std::string& name) {
  std::vector<CreepReading> readings;
  bool has_header = false;
  for (Lines lines(text); const std::optional<std::string_view> line = lines.next();) {
    const std::string place = fmt::format("{}:{}", name, lines.number());
    const std::vector<std::string_view> fields = split_fields(*line);
    if (!has_header) {
      has_header = true;
      if (fields == std::vector<std::string_view>{"time_s", "counts"}) continue;
      return protocol::at(
          place, Error{Errc::input_malformed, "the header of creep readings is: time_s,counts."});
    }
    if (fields.size() != 2) {
      return protocol::at(place, Error{Errc::input_malformed,
                                       fmt::format("{} fields where time_s and counts are wanted.",
                                                   fields.size())});
    }
    const Result<double> time_s = protocol::parse_number(fields[0]);
    if (!time_s) return protocol::at(place + ":1", time_s.error());
    const Result<double> counts = protocol::parse_number(fields[1]);
    if (!counts) return protocol::at(place + ":2", counts.error());
    readings.push_back({*time_s, *counts});
  }
  return readings;
}

}  // namespace calibration
