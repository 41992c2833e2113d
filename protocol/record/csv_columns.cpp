#include "protocol/record/csv_columns.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace protocol {
namespace {

struct Quantity {
  std::string_view stem;  // of headers: travel_mm
  Dimension dimension;
};

constexpr Quantity kTravel{"travel", Dimension::length};
constexpr Quantity kForce{"force", Dimension::force};
constexpr Quantity kTime{"time", Dimension::time};

std::string trimmed(std::string text) {
  while (!text.empty() && text.back() == ' ') text.pop_back();
  text.erase(0, std::min(text.find_first_not_of(' '), text.size()));
  return text;
}

std::string names_of(const std::vector<CsvField>& header) {
  std::vector<std::string> names;
  for (const CsvField& field : header) names.push_back("'" + trimmed(field.text) + "'");
  return fmt::format("{}", fmt::join(names, ", "));
}

std::string first_unit(Dimension dimension) {
  const std::string units = unit_list(dimension);
  return units.substr(0, units.find(','));
}

// How to say that a column is this quantity.
std::string column_hint(const Quantity& quantity, std::string_view name) {
  return fmt::format("--column {}={}:{}", quantity.stem, name, first_unit(quantity.dimension));
}

// A file that is separated by something else has one field in its header.
std::string separator_hint(const std::vector<CsvField>& header, std::string_view text) {
  if (header.size() != 1) return "";
  const size_t line = text.find('\n');
  const std::string_view second =
      line == std::string_view::npos ? "" : text.substr(line + 1, text.find('\n', line + 1) - line);
  for (const auto& [mark, option] :
       {std::pair{';', "\";\""}, std::pair{'\t', "tab"}, std::pair{',', "\",\""}}) {
    if (header[0].text.find(mark) == std::string::npos) continue;
    const bool decimal_commas = mark != ',' && second.find(',') != std::string_view::npos;
    return fmt::format(" The fields look separated by {}: give --separator {}{}.", option, option,
                       decimal_commas ? " --decimal \",\"" : "");
  }
  return "";
}

Result<ImportColumn> named_column(const CsvReader& csv, const std::vector<CsvField>& header,
                                  const CsvColumn& wanted, const Quantity& quantity) {
  const Result<Unit> unit = column_unit(wanted, quantity.dimension);
  if (!unit) return unit.error();
  std::optional<ImportColumn> found;
  for (size_t i = 0; i < header.size(); ++i) {
    if (trimmed(header[i].text) != wanted.name) continue;
    if (found) {
      return Error{Errc::input_malformed,
                   fmt::format("{}: there is more than one column '{}'; rename one of them.",
                               csv.place(header[i]), wanted.name)};
    }
    found = ImportColumn{i, wanted.name, *unit};
  }
  if (found) return *found;
  return Error{Errc::input_malformed,
               fmt::format("{}: there is no column '{}'; the header has {}.", csv.place(header[0]),
                           wanted.name, names_of(header))};
}

// A header that begins with the quantity but does not end in one of its units.
Error wrong_unit(const CsvReader& csv, const CsvField& field, const Quantity& quantity) {
  const std::string name = trimmed(field.text);
  const std::string unit =
      name.size() > quantity.stem.size() ? name.substr(quantity.stem.size() + 1) : "";
  const std::optional<Unit> known = find_unit(unit);
  std::string message =
      unit.empty() ? fmt::format("column '{}' does not say its unit", name)
      : known      ? fmt::format("column '{}' is in '{}', a {}", name, unit,
                                 dimension_name(known->dimension))
                   : fmt::format("column '{}' has the unit '{}', which is not known", name, unit);
  message += fmt::format("; a {} takes one of: {}. Rename it, or say what it is: {}",
                         dimension_name(quantity.dimension), unit_list(quantity.dimension),
                         column_hint(quantity, name));
  message += quantity.stem == kTime.stem ? ", or --column time=none to do without." : ".";
  return Error{known ? Errc::unit_wrong_dimension : Errc::unit_unknown,
               fmt::format("{}: {}", csv.place(field), message)};
}

// The one column whose header is the stem, an underscore and a unit; nothing where none is.
Result<std::optional<ImportColumn>> column_by_header(const CsvReader& csv,
                                                     const std::vector<CsvField>& header,
                                                     const Quantity& quantity) {
  std::optional<ImportColumn> found;
  const CsvField* unclear = nullptr;
  const std::string prefix = std::string(quantity.stem) + "_";
  for (size_t i = 0; i < header.size(); ++i) {
    const std::string name = trimmed(header[i].text);
    if (name != quantity.stem && name.substr(0, prefix.size()) != prefix) continue;
    const std::optional<Unit> unit =
        name == quantity.stem ? std::nullopt : find_unit(name.substr(prefix.size()));
    if (!unit || unit->dimension != quantity.dimension) {
      unclear = &header[i];
      continue;
    }
    if (found) {
      return Error{Errc::input_malformed,
                   fmt::format("{}: both '{}' and '{}' could be the {}; say which: {}.",
                               csv.place(header[i]), found->name, name, quantity.stem,
                               fmt::format("--column {}={}:{}", quantity.stem, name, unit->name))};
    }
    found = ImportColumn{i, name, *unit};
  }
  if (!found && unclear) return wrong_unit(csv, *unclear, quantity);
  return found;
}

Result<std::optional<ImportColumn>> find_column(const CsvReader& csv,
                                                const std::vector<CsvField>& header,
                                                const std::optional<CsvColumn>& wanted,
                                                const Quantity& quantity) {
  if (!wanted) return column_by_header(csv, header, quantity);
  const Result<ImportColumn> named = named_column(csv, header, *wanted, quantity);
  if (!named) return named.error();
  return std::optional<ImportColumn>(*named);
}

}  // namespace

Result<Unit> column_unit(const CsvColumn& column, Dimension dimension) {
  const std::optional<Unit> unit = find_unit(column.unit);
  if (unit && unit->dimension == dimension) return *unit;
  return Error{
      Errc::usage,
      fmt::format("'{}' is not a unit of {}, which column '{}' is said to be; it takes one "
                  "of: {}.",
                  column.unit, dimension_name(dimension), column.name, unit_list(dimension))};
}

Result<ImportColumns> find_columns(const CsvReader& csv, const std::vector<CsvField>& header,
                                   std::string_view text, const CsvImportOptions& options) {
  const std::string hint = separator_hint(header, text);
  if (!hint.empty()) {
    return Error{Errc::input_malformed, fmt::format("{}: the header has only one field, {}.{}",
                                                    csv.place(header[0]), names_of(header), hint)};
  }
  ImportColumns columns;
  const auto need = [&](const Quantity& quantity,
                        const std::optional<CsvColumn>& wanted) -> Result<ImportColumn> {
    const Result<std::optional<ImportColumn>> found = find_column(csv, header, wanted, quantity);
    if (!found) return found.error();
    if (*found) return **found;
    return Error{Errc::input_malformed,
                 fmt::format("{}: no column is the {}; the header has {}. Name it {}_{}, or give "
                             "{}.",
                             csv.place(header[0]), quantity.stem, names_of(header), quantity.stem,
                             first_unit(quantity.dimension), column_hint(quantity, "NAME"))};
  };
  const Result<ImportColumn> travel = need(kTravel, options.travel);
  if (!travel) return travel.error();
  columns.travel = *travel;
  if (!options.without_force) {
    const Result<ImportColumn> force = need(kForce, options.force);
    if (!force) return force.error();
    columns.force = *force;
  }
  if (!options.without_time) {
    const Result<std::optional<ImportColumn>> time = find_column(csv, header, options.time, kTime);
    if (!time) return time.error();
    columns.time = *time;
  }
  const auto same = [](const std::optional<ImportColumn>& a, const std::optional<ImportColumn>& b) {
    return a && b && a->index == b->index;
  };
  if (same(columns.travel, columns.force) || same(columns.time, columns.travel) ||
      same(columns.time, columns.force)) {
    return Error{Errc::usage, "one column cannot be two quantities."};
  }
  return columns;
}

}  // namespace protocol
