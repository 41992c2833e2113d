#include "protocol/units.hpp"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <numbers>

namespace protocol {
namespace {

constexpr double kInch_m = 0.0254;
constexpr double kPound_kg = 0.45359237;
constexpr double kPoundForce_N = kPound_kg * kStandardGravity_m_s2;
constexpr double kPsi_Pa = kPoundForce_N / (kInch_m * kInch_m);

constexpr std::array kUnits = {
    Unit{"mm", Dimension::length, 1e-3},
    Unit{"cm", Dimension::length, 1e-2},
    Unit{"m", Dimension::length, 1.0},
    Unit{"in", Dimension::length, kInch_m},
    Unit{"N", Dimension::force, 1.0},
    Unit{"kN", Dimension::force, 1e3},
    Unit{"lbf", Dimension::force, kPoundForce_N},
    Unit{"kgf", Dimension::force, kStandardGravity_m_s2},
    Unit{"Pa", Dimension::pressure, 1.0},
    Unit{"kPa", Dimension::pressure, 1e3},
    Unit{"MPa", Dimension::pressure, 1e6},
    Unit{"bar", Dimension::pressure, 1e5},
    Unit{"psi", Dimension::pressure, kPsi_Pa},
    Unit{"cm3", Dimension::volume, 1e-6},
    Unit{"mL", Dimension::volume, 1e-6},
    Unit{"mm3", Dimension::volume, 1e-9},
    Unit{"L", Dimension::volume, 1e-3},
    Unit{"degC", Dimension::temperature, 1.0, kZeroCelsius_K},
    Unit{"K", Dimension::temperature, 1.0},
    Unit{"s", Dimension::time, 1.0},
    Unit{"min", Dimension::time, 60.0},
    Unit{"h", Dimension::time, 3600.0},
    Unit{"ms", Dimension::time, 1e-3},
    Unit{"mm/s", Dimension::speed, 1e-3},
    Unit{"m/s", Dimension::speed, 1.0},
    Unit{"in/s", Dimension::speed, kInch_m},
    Unit{"N/mm", Dimension::rate, 1e3},
    Unit{"lbf/in", Dimension::rate, kPoundForce_N / kInch_m},
    Unit{"kg", Dimension::mass, 1.0},
    Unit{"g", Dimension::mass, 1e-3},
    Unit{"lb", Dimension::mass, kPound_kg},
    Unit{"deg", Dimension::angle, std::numbers::pi / 180.0},
    Unit{"%", Dimension::fraction, 1e-2},
    Unit{"percent", Dimension::fraction, 1e-2},
};

struct NumberAndUnit {
  double number;
  Unit unit;
};

Result<NumberAndUnit> split(std::string_view text, Dimension dimension) {
  const std::string_view body = trimmed(text);
  double number = 0.0;
  const auto [end, status] = std::from_chars(body.data(), body.data() + body.size(), number);
  if (status != std::errc{} || !std::isfinite(number)) {
    return Error{Errc::input_malformed,
                 fmt::format("'{}' is not a number with a unit; write for example \"12.5 {}\".",
                             text, unit_list(dimension).substr(0, unit_list(dimension).find(',')))};
  }
  const std::string_view name = trimmed(body.substr(static_cast<size_t>(end - body.data())));
  if (name.empty()) {
    return Error{Errc::unit_unknown, fmt::format("'{}' has no unit; a {} takes one of: {}.", text,
                                                 dimension_name(dimension), unit_list(dimension))};
  }
  const std::optional<Unit> unit = find_unit(name);
  if (!unit) {
    return Error{Errc::unit_unknown,
                 fmt::format("'{}' is not a known unit in '{}'; a {} takes one of: {}.", name, text,
                             dimension_name(dimension), unit_list(dimension))};
  }
  if (unit->dimension != dimension) {
    return Error{Errc::unit_wrong_dimension,
                 fmt::format("'{}' is a {}, where a {} is wanted; it takes one of: {}.", text,
                             dimension_name(unit->dimension), dimension_name(dimension),
                             unit_list(dimension))};
  }
  return NumberAndUnit{number, *unit};
}

}  // namespace

std::optional<Unit> find_unit(std::string_view name) {
  for (const Unit& unit : kUnits) {
    if (unit.name == name) return unit;
  }
  return std::nullopt;
}

std::string unit_list(Dimension dimension) {
  std::string list;
  for (const Unit& unit : kUnits) {
    if (unit.dimension != dimension) continue;
    if (!list.empty()) list += ", ";
    list += unit.name;
  }
  return list;
}

std::string_view dimension_name(Dimension dimension) {
  switch (dimension) {
    case Dimension::length:
      return "length";
    case Dimension::force:
      return "force";
    case Dimension::pressure:
      return "pressure";
    case Dimension::volume:
      return "volume";
    case Dimension::temperature:
      return "temperature";
    case Dimension::time:
      return "time";
    case Dimension::speed:
      return "speed";
    case Dimension::rate:
      return "spring rate";
    case Dimension::mass:
      return "mass";
    case Dimension::angle:
      return "angle";
    case Dimension::fraction:
      return "fraction";
  }
  ENSURE(false);
}

Result<double> parse_quantity(std::string_view text, Dimension dimension) {
  const Result<NumberAndUnit> parts = split(text, dimension);
  if (!parts) return parts.error();
  return parts->number * parts->unit.factor + parts->unit.offset;
}

Result<Toleranced> parse_toleranced(std::string_view text, Dimension dimension) {
  size_t sign_length = 3;
  size_t sign = text.find("+/-");
  if (sign == std::string_view::npos) {
    constexpr std::string_view kPlusMinus = "\u00b1";
    sign = text.find(kPlusMinus);
    sign_length = kPlusMinus.size();
  }
  const Result<double> value = parse_quantity(text.substr(0, sign), dimension);
  if (!value) return value.error();
  Toleranced result{*value, std::nullopt};
  if (sign == std::string_view::npos) return result;
  const Result<NumberAndUnit> tolerance = split(text.substr(sign + sign_length), dimension);
  if (!tolerance) return tolerance.error();
  result.tolerance = tolerance->number * tolerance->unit.factor;
  if (!(*result.tolerance > 0.0)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("the tolerance in '{}' must be more than zero.", text)};
  }
  return result;
}

double in_unit(double value_si, std::string_view unit) {
  const std::optional<Unit> found = find_unit(unit);
  ENSURE(found.has_value());
  return (value_si - found->offset) / found->factor;
}

double from_unit(double number, std::string_view unit) {
  const std::optional<Unit> found = find_unit(unit);
  ENSURE(found.has_value());
  return number * found->factor + found->offset;
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

std::string number_text(double value) {
  return fmt::format("{}", value);
}

Result<double> parse_number(std::string_view text) {
  double number = 0.0;
  const auto [end, status] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (status != std::errc{} || end != text.data() + text.size()) {
    return Error{Errc::input_malformed, fmt::format("'{}' is not a number.", text)};
  }
  return number;
}

double standard_atmosphere_Pa(double altitude_m) {
  constexpr double kSeaLevel_K = 288.15;
  constexpr double kLapse_K_m = 0.0065;
  constexpr double kAirGasConstant_J_kgK = 287.05287;
  const double temperature_K = kSeaLevel_K - kLapse_K_m * altitude_m;
  return kStandardAtmosphere_Pa *
         std::pow(temperature_K / kSeaLevel_K,
                  kStandardGravity_m_s2 / (kAirGasConstant_J_kgK * kLapse_K_m));
}

}  // namespace protocol
