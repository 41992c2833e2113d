#include "calibration/certificate_derived.hpp"

#include <cmath>

#include "calibration/performance/budget.hpp"
#include "calibration/performance/force_performance.hpp"
#include "calibration/performance/lower_limit.hpp"
#include "calibration/performance/machine_class.hpp"
#include "calibration/performance/travel_performance.hpp"

namespace calibration {
namespace {

using protocol::Json;

// JSON knows no infinity: what has none of it (the degrees of freedom of a stated uncertainty) is
// left out.
void put(Json& json, const char* key, std::optional<double> value) {
  if (value && std::isfinite(*value)) json[key] = *value;
}

Json point_json(const LoadPoint& point) {
  Json json = {{"load_N", point.load_N}, {"series", point.series}};
  put(json, "accuracy_percent", point.accuracy_percent);
  put(json, "repeatability_percent", point.repeatability_percent);
  put(json, "reversibility_percent", point.reversibility_percent);
  put(json, "resolution_percent", point.resolution_percent);
  return json;
}

Json limits_json(const ClassVerdict& verdict) {
  Json json = {{"standard", "ISO 7500-1"}, {"enough_readings", verdict.enough_readings}};
  put(json, "class_met", verdict.overall);
  if (verdict.overall) put(json, "from_N", verdict.from_N);
  json["quantities"] = Json::array();
  for (const QuantityVerdict& one : verdict.quantities) {
    Json entry = {{"quantity", quantity_symbol(one.quantity)}, {"measured", one.measured}};
    if (one.measured) {
      put(entry, "class_met", one.class_met);
      put(entry, "worst_percent", one.worst_percent);
      put(entry, "at_N", one.at_N);
    }
    json["quantities"].push_back(entry);
  }
  return json;
}

Json force_json(const Calibration& calibration) {
  const ForcePerformance performance = force_performance(calibration);
  Json json = {{"series", performance.series}};
  put(json, "full_scale_N", performance.full_scale_N);
  put(json, "non_linearity_percent", performance.non_linearity_percent);
  put(json, "hysteresis_percent", performance.hysteresis_percent);
  put(json, "zero_return_percent", performance.zero_return_percent);
  put(json, "repeatability_percent", performance.repeatability_percent);
  put(json, "creep_percent", performance.creep_percent);
  json["points"] = Json::array();
  for (const LoadPoint& point : performance.points) json["points"].push_back(point_json(point));
  json["limits_met"] = limits_json(machine_class(performance));
  const LowerLimit limit = lower_limit(calibration);
  Json lower = {{"manner", "ASTM E74"}};
  put(lower, "standard_deviation_N", limit.standard_deviation_N);
  put(lower, "lower_limit_factor_N", limit.lower_limit_factor_N);
  put(lower, "class_a_from_N", limit.class_a_from_N);
  put(lower, "class_aa_from_N", limit.class_aa_from_N);
  json["lower_limit"] = lower;
  return json;
}

Json travel_json(const Calibration& calibration) {
  const TravelPerformance performance = travel_performance(calibration);
  Json json = Json::object();
  put(json, "scale_m_per_step", performance.scale_m_per_step);
  put(json, "linearity_m", performance.linearity_m);
  put(json, "backlash_m", performance.backlash_m);
  put(json, "backlash_up_m", performance.backlash_up_m);
  put(json, "backlash_down_m", performance.backlash_down_m);
  put(json, "repeatability_m", performance.repeatability_m);
  return json;
}

Json line_json(const BudgetLine& line) {
  Json json = {{"source", line.source},
               {"evaluation", std::string(1, line.evaluation)},
               {"distribution", line.distribution},
               {"unit", line.unit}};
  put(json, "standard_uncertainty", line.standard_uncertainty);
  put(json, "sensitivity", line.sensitivity);
  put(json, "contribution", line.contribution);
  put(json, "degrees_of_freedom", line.degrees_of_freedom);
  return json;
}

Json budget_json(const Budget& budget) {
  Json json = Json::object();
  put(json, "reading", budget.at);
  put(json, "value", budget.value);
  json["lines"] = Json::array();
  for (const BudgetLine& line : budget.lines) json["lines"].push_back(line_json(line));
  put(json, "combined_standard_uncertainty", budget.combined_standard_uncertainty);
  put(json, "effective_degrees_of_freedom", budget.effective_degrees_of_freedom);
  put(json, "coverage_factor", budget.coverage_factor);
  put(json, "expanded_uncertainty", budget.expanded_uncertainty);
  return json;
}

}  // namespace

Json derived_json(const Calibration& calibration) {
  Json json = Json::object();
  if (calibration.kind == Kind::force) json["performance"] = force_json(calibration);
  if (calibration.kind == Kind::travel) json["performance"] = travel_json(calibration);
  json["budget"] = Json::array();
  constexpr int kParts = 5;
  for (int i = 0; i <= kParts; ++i) {
    const double value =
        calibration.range_low + (calibration.range_high - calibration.range_low) * i / kParts;
    json["budget"].push_back(budget_json(budget_at(calibration, value)));
  }
  return json;
}

}  // namespace calibration
