#include "calibration/guided/plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "protocol/units.hpp"

namespace calibration {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

constexpr int kSeriesMax = 20;
constexpr size_t kLoadsMax = 100;

struct UnitOf {
  LoadUnit unit;
  protocol::Dimension dimension;
  std::string_view name;
};

constexpr UnitOf kUnits[] = {{LoadUnit::kilogram, protocol::Dimension::mass, "kg"},
                             {LoadUnit::newton, protocol::Dimension::force, "N"},
                             {LoadUnit::millimetre, protocol::Dimension::length, "mm"}};

// Which units a kind can be loaded in.
bool fits(Kind kind, LoadUnit unit) {
  switch (kind) {
    case Kind::force:
      return unit != LoadUnit::millimetre;
    case Kind::travel:
      return unit == LoadUnit::millimetre;
    case Kind::frame:
      return unit == LoadUnit::newton;
  }
  ENSURE(false);
}

std::string_view units_for(Kind kind) {
  if (kind == Kind::force) return "kg of weights, or N by a reference transducer";
  return kind == Kind::travel ? "mm" : "N";
}

std::vector<std::string> split_numbers(std::string_view text) {
  std::vector<std::string> numbers(1);
  for (const char each : text) {
    const bool is_gap = each == ',' || each == ' ' || each == ';';
    if (!is_gap) numbers.back() += each;
    if (is_gap && !numbers.back().empty()) numbers.emplace_back();
  }
  if (numbers.back().empty()) numbers.pop_back();
  return numbers;
}

}  // namespace

std::string_view load_unit_name(LoadUnit unit) {
  for (const UnitOf& each : kUnits) {
    if (each.unit == unit) return each.name;
  }
  ENSURE(false);
}

std::string load_text(double load, LoadUnit unit) {
  // A thousandth of the unit is finer than any of these loads is known.
  return fmt::format("{} {}", protocol::number_text(std::round(load * 1e4) / 1e4),
                     load_unit_name(unit));
}

bool operator==(const GuidedPlan& a, const GuidedPlan& b) {
  return a.kind == b.kind && a.unit == b.unit && a.loads == b.loads && a.series == b.series &&
         a.descending == b.descending;
}

Result<GuidedPlan> parse_plan(std::string_view loads, Kind kind, int series) {
  const size_t last_digit = loads.find_last_of("0123456789.");
  const std::string_view said =
      last_digit == std::string_view::npos ? std::string_view() : loads.substr(last_digit + 1);
  const size_t begin = said.find_first_not_of(' ');
  const std::optional<protocol::Unit> unit =
      begin == std::string_view::npos ? std::nullopt : protocol::find_unit(said.substr(begin));
  const auto* const known =
      std::find_if(std::begin(kUnits), std::end(kUnits),
                   [&](const UnitOf& each) { return unit && each.dimension == unit->dimension; });
  if (known == std::end(kUnits)) {
    return Error{Errc::unit_unknown,
                 fmt::format("the loads '{}' need one unit behind the last of them: {}; write "
                             "\"0, 5, 10, 20 {}\".",
                             loads, units_for(kind), kind == Kind::travel ? "mm" : "kg")};
  }
  GuidedPlan plan;
  plan.kind = kind;
  plan.unit = known->unit;
  plan.series = series;
  plan.descending = kind != Kind::frame;
  for (const std::string& number : split_numbers(loads.substr(0, last_digit + 1))) {
    const Result<double> value = protocol::parse_number(number);
    if (!value) return protocol::at(fmt::format("the loads '{}'", loads), value.error());
    plan.loads.push_back(unit->factor == protocol::find_unit(known->name)->factor
                             ? *value
                             : protocol::in_unit(*value * unit->factor, known->name));
  }
  if (const Result<void> checked = check_plan(plan); !checked) return checked.error();
  return plan;
}

Result<void> check_plan(const GuidedPlan& plan) {
  if (!fits(plan.kind, plan.unit)) {
    return Error{Errc::unit_wrong_dimension,
                 fmt::format("a {} calibration is not loaded in {}; use {}.", kind_name(plan.kind),
                             load_unit_name(plan.unit), units_for(plan.kind))};
  }
  const bool too_many = plan.loads.size() > kLoadsMax;
  if (plan.loads.size() < kGuidedLoadsMin || too_many) {
    return Error{
        Errc::input_out_of_range,
        fmt::format("{} different loads are too {}; name from {} to {}, such as \"0, 5, "
                    "10, 20, 30 kg\".",
                    plan.loads.size(), too_many ? "many" : "few", kGuidedLoadsMin, kLoadsMax)};
  }
  for (size_t i = 0; i < plan.loads.size(); ++i) {
    const bool ascends = i == 0 ? plan.loads[i] >= 0.0 : plan.loads[i] > plan.loads[i - 1];
    if (ascends && std::isfinite(plan.loads[i])) continue;
    return Error{Errc::input_out_of_range,
                 fmt::format("load {} in the list, {}, does not ascend from zero on; name each "
                             "load once, smallest first.",
                             i + 1, load_text(plan.loads[i], plan.unit))};
  }
  // Fewer series say nothing of how a cell or a screw repeats.
  const int series_min = plan.kind == Kind::frame ? 1 : 3;
  if (plan.series < series_min || plan.series > kSeriesMax) {
    return Error{Errc::input_out_of_range,
                 fmt::format("{} series are asked for; take from {} to {}.", plan.series,
                             series_min, kSeriesMax)};
  }
  return {};
}

std::vector<GuidedStep> steps_of(const GuidedPlan& plan) {
  std::vector<GuidedStep> steps;
  for (int series = 1; series <= plan.series; ++series) {
    for (const double load : plan.loads) steps.push_back({series, Direction::ascending, load});
    if (!plan.descending) continue;
    for (size_t i = plan.loads.size() - 1; i-- > 0;) {
      steps.push_back({series, Direction::descending, plan.loads[i]});
    }
  }
  return steps;
}

double smallest_step(const GuidedPlan& plan) {
  ENSURE(plan.loads.size() >= 2);
  double smallest = plan.loads[1] - plan.loads[0];
  for (size_t i = 2; i < plan.loads.size(); ++i) {
    smallest = std::min(smallest, plan.loads[i] - plan.loads[i - 1]);
  }
  return smallest;
}

bool is_typed(const GuidedPlan& plan) {
  return plan.kind == Kind::travel || (plan.kind == Kind::force && plan.unit == LoadUnit::newton);
}

}  // namespace calibration
