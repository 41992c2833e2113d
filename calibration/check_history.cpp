#include "calibration/check_history.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "protocol/record/csv_reader.hpp"
#include "protocol/units.hpp"

namespace calibration {

using protocol::CsvField;
using protocol::CsvReader;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

constexpr std::string_view kHeader =
    "time,certificate_id,cell,load_N,measured_N,difference_N,expanded_uncertainty_N,within,"
    "operator";
constexpr size_t kColumns = 9;

// Always quoted, so that a name may hold a comma; on one line, whatever was typed.
std::string quoted_field(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"') out += '"';
    out += c == '\n' || c == '\r' ? ' ' : c;
  }
  return out + '"';
}

std::optional<double> number(const std::string& text) {
  const Result<double> value = protocol::parse_number(text);
  if (!value || !std::isfinite(*value)) return std::nullopt;
  return *value;
}

std::optional<ControlPoint> parse_line(std::string_view line, const std::string& name) {
  CsvReader reader(line, name, ',');
  std::vector<CsvField> fields;
  const Result<bool> read = reader.next(fields);
  if (!read || !*read || fields.size() != kColumns) return std::nullopt;
  const auto load_N = number(fields[3].text);
  const auto measured_N = number(fields[4].text);
  const auto expanded_N = number(fields[6].text);
  if (!load_N || !measured_N || !expanded_N) return std::nullopt;
  return ControlPoint{fields[0].text, fields[1].text, fields[2].text, *load_N,
                      *measured_N,    *expanded_N,    fields[8].text};
}

}  // namespace

std::string check_history_header() {
  return std::string(kHeader) + "\n";
}

std::string check_history_line(const ControlPoint& point) {
  return fmt::format("{},{},{},{:.10g},{:.10g},{:.6g},{:.6g},{},{}\n", point.time,
                     point.certificate_id, quoted_field(point.cell_id), point.load_N,
                     point.measured_N, point.difference_N(), point.expanded_uncertainty_N,
                     point.is_within() ? "yes" : "no", quoted_field(point.operator_name));
}

Result<CheckHistory> parse_check_history(std::string_view text, const std::string& name) {
  CheckHistory history;
  size_t line_number = 0;
  while (!text.empty()) {
    const size_t end = std::min(text.find('\n'), text.size());
    const bool is_finished = end < text.size();
    std::string_view line = text.substr(0, end);
    text.remove_prefix(is_finished ? end + 1 : end);
    if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
    ++line_number;
    if (line_number == 1) {
      if (line == kHeader) continue;
      return Error{Errc::input_malformed,
                   fmt::format("{}: is no history of checks, its first line is not '{}'; name "
                               "another file with --history.",
                               name, kHeader)};
    }
    if (line.empty()) continue;
    const std::optional<ControlPoint> point =
        is_finished ? parse_line(line, name) : std::optional<ControlPoint>();
    if (point) {
      history.points.push_back(*point);
    } else {
      history.warnings.push_back(
          fmt::format("{}:{}: this line is not complete and is passed over.", name, line_number));
    }
  }
  return history;
}

}  // namespace calibration
