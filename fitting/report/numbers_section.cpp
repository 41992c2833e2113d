// Single numbers of both forks side by side: as tested, and of the models at matched sag.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "fitting/curve/curve_json.hpp"
#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"

namespace fitting {
namespace {

using Quantities = std::vector<Quantity>;

constexpr std::pair<std::string_view, std::string_view> kUnits[] = {
    {"_N_per_mm", "N/mm"}, {"_percent", "%"}, {"_mm", "mm"}, {"_N", "N"}, {"_J", "J"}};

// "force_at_2_mm_N": "force at 2 mm", and the scale of its newtons.
struct Heading {
  std::string words;
  UnitScale scale;
};

Heading heading(std::string name, const ReaderUnits& units) {
  Heading out;
  for (const auto& [ending, unit] : kUnits) {
    if (!name.ends_with(ending)) continue;
    name.resize(name.size() - ending.size());
    out.scale = scale_from(units, unit);
    break;
  }
  std::replace(name.begin(), name.end(), '_', ' ');
  out.words = out.scale.unit.empty() ? name : out.scale.heading(name);
  return out;
}

std::string shown(const Quantities& quantities, const std::string& name, const UnitScale& scale) {
  const Quantity* quantity = find_quantity(quantities, name);
  if (quantity == nullptr || !quantity->value) return "–";
  if (!quantity->standard_uncertainty) return scale.number(*quantity->value, 1);
  const int digits = *quantity->standard_uncertainty < 0.095 ? 2 : 1;
  return scale.number(*quantity->value, digits) + " ± " +
         scale.number(*quantity->standard_uncertainty, digits);
}

Quantities tested(const ReportFork& fork, const QuantityOptions& options) {
  if (fork.records.empty()) return {};
  const auto answer = answer_curve(fork.label, fork.records.front().record, {}, options);
  return answer ? answer->quantities : Quantities{};
}

Quantities modelled(const ReportFork& fork, const Side& side, const QuantityOptions& options) {
  CurveContext context;
  context.fork_travel_m = fork.model.fork.travel_m;
  context.bumper_m = fork.model.fork.bumper_m;
  // The covariance holds the instruments' doubt already.
  context.doubt = {};
  context.doubt.gain_relative = context.doubt.zero_N = context.doubt.travel_zero_m = 0.0;
  return curve_quantities(curve_of(side), context, options);
}

const ComparedPair* find_pair(const ComparisonInput& input, const std::string& id) {
  for (const auto& pair : input.pairs) {
    if (pair.id == id) return &pair;
  }
  return nullptr;
}

}  // namespace

Section numbers_section(const ComparisonInput& input) {
  Section section{"numbers", "The numbers side by side", {}};
  QuantityOptions options;
  options.load_N = input.pairs.front().load_N;
  std::vector<Quantities> columns = {tested(input.a, options), tested(input.b, options)};
  Table table{
      "numbers",
      "Of the midlines: as tested from the first record of each; uncertainties are standard",
      {{"Quantity", ColumnKind::text},
       {input.a.label + ", as tested"},
       {input.b.label + ", as tested"}},
      {}};
  if (const ComparedPair* matched = find_pair(input, "matched-sag")) {
    columns.push_back(modelled(input.a, matched->a, options));
    columns.push_back(modelled(input.b, matched->b, options));
    table.caption += "; at matched sag from the models";
    table.columns.push_back({input.a.label + ", matched"});
    table.columns.push_back({input.b.label + ", matched"});
  }
  std::vector<std::string> names;
  for (const Quantities& column : columns) {
    for (const Quantity& quantity : column) {
      if (std::find(names.begin(), names.end(), quantity.name) == names.end()) {
        names.push_back(quantity.name);
      }
    }
  }
  for (const std::string& name : names) {
    const Heading head = heading(name, input.units);
    std::vector<std::string> row{head.words};
    bool any = false;
    for (const Quantities& column : columns) {
      row.push_back(shown(column, name, head.scale));
      any = any || row.back() != "–";
    }
    if (any) table.rows.push_back(std::move(row));
  }
  if (!table.rows.empty()) section.blocks.push_back(std::move(table));
  return section;
}

}  // namespace fitting
