#include "calibration/readings_columns.hpp"

#include <fmt/format.h>

#include <cmath>

namespace calibration {
namespace {

using protocol::Dimension;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

Result<Column> with_unit(Column::Role role, Dimension dimension, std::string_view name,
                         std::string_view unit_name) {
  const std::optional<protocol::Unit> unit = protocol::find_unit(unit_name);
  if (!unit) {
    return Error{
        Errc::unit_unknown,
        fmt::format("'{}' in '{}' is not a known unit; a {} takes one of: {}.", unit_name, name,
                    protocol::dimension_name(dimension), protocol::unit_list(dimension))};
  }
  if (unit->dimension != dimension) {
    return Error{Errc::unit_wrong_dimension,
                 fmt::format("'{}' in '{}' is a {}, where a {} is wanted: {}.", unit_name, name,
                             protocol::dimension_name(unit->dimension),
                             protocol::dimension_name(dimension), protocol::unit_list(dimension))};
  }
  return Column{role, unit->factor};
}

Result<Column> quantity_column(Kind kind, std::string_view name, std::string_view quantity,
                               std::string_view unit) {
  if (kind == Kind::force && (quantity == "load" || quantity == "force")) {
    const std::optional<protocol::Unit> known = protocol::find_unit(unit);
    if (quantity == "load" && known && known->dimension == Dimension::mass) {
      return Column{Column::Role::mass, known->factor};
    }
    return with_unit(Column::Role::reference, Dimension::force, name, unit);
  }
  if (kind == Kind::travel && quantity == "travel") {
    return with_unit(Column::Role::reference, Dimension::length, name, unit);
  }
  if (kind == Kind::frame && quantity == "force") {
    return with_unit(Column::Role::reading, Dimension::force, name, unit);
  }
  if (kind == Kind::frame && quantity == "deflection") {
    return with_unit(Column::Role::reference, Dimension::length, name, unit);
  }
  return Error{Errc::input_unknown_key, fmt::format("'{}' is not known; {} readings have: {}.",
                                                    name, kind_name(kind), column_list(kind))};
}

}  // namespace

std::string_view column_list(Kind kind) {
  switch (kind) {
    case Kind::force:
      return "counts, load_kg or force_N (or other units), series, direction";
    case Kind::travel:
      return "steps, travel_mm (or another unit), series, direction";
    case Kind::frame:
      return "force_N, deflection_mm (or other units), series, direction";
  }
  ENSURE(false);
}

Result<Column> find_column(Kind kind, std::string_view name) {
  if (name == "series") return Column{Column::Role::series};
  if (name == "direction") return Column{Column::Role::direction};
  if (kind != Kind::frame && name == reading_unit(kind)) return Column{Column::Role::reading};
  const size_t underscore = name.find('_');
  const bool has_unit = underscore != std::string_view::npos;
  return quantity_column(kind, name, name.substr(0, underscore),
                         has_unit ? name.substr(underscore + 1) : std::string_view());
}

Result<void> put_number(Reading& reading, const Column& column, double number) {
  if (!std::isfinite(number)) {
    return Error{Errc::input_out_of_range, fmt::format("{} is not a finite number.", number)};
  }
  switch (column.role) {
    case Column::Role::reading:
      reading.reading = number * column.factor;
      return {};
    case Column::Role::reference:
      reading.reference = number * column.factor;
      return {};
    case Column::Role::mass:
      reading.load_kg = number * column.factor;
      return {};
    case Column::Role::series: {
      constexpr double kSeriesMax = 1000.0;
      if (number < 1.0 || number > kSeriesMax || number != std::floor(number)) {
        return Error{
            Errc::input_out_of_range,
            fmt::format("series {} must be a whole number from 1 to {}.", number, kSeriesMax)};
      }
      reading.series = static_cast<int>(number);
      return {};
    }
    case Column::Role::direction:
      break;
  }
  return Error{Errc::input_malformed, "a direction is a word: ascending or descending."};
}

Result<void> put_direction(Reading& reading, std::string_view word) {
  const std::optional<Direction> direction = find_direction(word);
  if (!direction) {
    return Error{Errc::input_malformed,
                 fmt::format("'{}' is not a direction; write ascending or descending.", word)};
  }
  reading.direction = *direction;
  return {};
}

}  // namespace calibration
