#include "fitting/compare/compare_json.hpp"

#include <cmath>

#include "fitting/compare/fairness.hpp"
#include "fitting/compare/sentences.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

using nlohmann::ordered_json;

ordered_json number(const std::optional<double>& value, double factor = 1.0) {
  return value && std::isfinite(*value) ? ordered_json(*value * factor) : ordered_json(nullptr);
}

ordered_json numbers(const std::vector<double>& values, double factor = 1.0) {
  ordered_json array = ordered_json::array();
  for (double value : values) array.push_back(number(value, factor));
  return array;
}

ordered_json numbers(const Eigen::VectorXd& values) {
  return numbers(std::vector<double>(values.data(), values.data() + values.size()));
}

ordered_json crossovers_json(const Crossings& crossings) {
  ordered_json array = ordered_json::array();
  for (const Crossover& crossover : crossings.crossovers) {
    array.push_back({{"travel_mm", crossover.travel_m * 1e3},
                     {"standard_uncertainty_mm", crossover.standard_uncertainty_m * 1e3},
                     {"firmer_above", crossover.a_firmer_behind ? "a" : "b"}});
  }
  return array;
}

ordered_json spans_json(const std::vector<Span>& spans) {
  ordered_json array = ordered_json::array();
  for (const Span& span : spans) {
    array.push_back({{"from_mm", span.from_m * 1e3},
                     {"to_mm", span.to_m * 1e3},
                     {"firmer", firmer_name(span.firmer)},
                     {"mean_difference_N", span.mean_difference_N},
                     {"standard_uncertainty_N", span.standard_uncertainty_N}});
  }
  return array;
}

ordered_json resting_json(const RestingFork& resting, double fork_travel_m) {
  ordered_json json;
  if (!resting.sag) {
    json["sag_mm"] = nullptr;
    json["note"] = "does not come to carry the load within the travel known";
    return json;
  }
  const Sag& sag = *resting.sag;
  json["sag_mm"] = sag.travel_m * 1e3;
  json["sag_standard_uncertainty_mm"] = number(sag.standard_uncertainty_m, 1e3);
  json["sag_percent"] = 100.0 * sag.travel_m / fork_travel_m;
  json["friction_band_mm"] = {number(sag.least_m, 1e3), number(sag.most_m, 1e3)};
  if (resting.loop_least_m || resting.loop_most_m) {
    json["loop_band_at_sweep_speed_mm"] = {number(resting.loop_least_m, 1e3),
                                           number(resting.loop_most_m, 1e3)};
  }
  return json;
}

ordered_json matched_fork_json(const RestingFork& as_tested, const std::optional<MatchedFork>& fork,
                               double wanted_m, double fork_travel_m) {
  ordered_json json;
  json["as_tested"] = resting_json(as_tested, fork_travel_m);
  json["sag_wanted_mm"] = wanted_m * 1e3;
  if (!fork) {
    json["pressure_psi"] = nullptr;
    return json;
  }
  if (fork->added_preload_N) {
    json["pressure_psi"] = nullptr;
    json["added_preload_N"] = *fork->added_preload_N;
  } else {
    const double per_psi = protocol::from_unit(1.0, "psi");
    json["pressure_psi"] = fork->pressure_gauge_Pa / per_psi;
    json["pressure_standard_uncertainty_psi"] =
        number(fork->pressure_standard_uncertainty_Pa, 1.0 / per_psi);
    json["pressure_gauge_Pa"] = fork->pressure_gauge_Pa;
  }
  json.update(resting_json(fork->resting, fork_travel_m));
  return json;
}

ordered_json matched_json(const Comparison& comparison) {
  const MatchedSag& matched = comparison.matched_sag;
  ordered_json json;
  json["load_N"] = matched.load_N;
  json["load_source"] = matched.load_source;
  json["sag_source"] = matched.sag_source;
  json["matched"] = matched.difference.has_value();
  if (!matched.difference) json["not_matched_reason"] = matched.not_matched_reason;
  json["a"] = matched_fork_json(matched.as_tested_a, matched.a, matched.sag_a_m,
                                comparison.a.fork_travel_m);
  json["b"] = matched_fork_json(matched.as_tested_b, matched.b, matched.sag_b_m,
                                comparison.b.fork_travel_m);
  const std::optional<Sag>& sag_a = matched.as_tested_a.sag;
  const std::optional<Sag>& sag_b = matched.as_tested_b.sag;
  json["as_tested_mismatch_mm"] = sag_a && sag_b
                                      ? ordered_json((sag_a->travel_m - sag_b->travel_m) * 1e3)
                                      : ordered_json(nullptr);
  json["crossovers"] = crossovers_json(matched.crossings);
  json["spans"] = spans_json(matched.spans);
  json["thirds"] = spans_json(matched.thirds);
  return json;
}

ordered_json contributions_json(const Contributions& all) {
  ordered_json parts = ordered_json::array();
  for (const Contribution& part : all.parts) {
    parts.push_back({{"name", part.name}, {"difference_N", numbers(part.difference_N)}});
  }
  ordered_json travel_mm = ordered_json::array();
  for (double travel_m : all.travel_m) travel_mm.push_back(1e3 * travel_m);
  return {{"of", "compression strokes of settled cycles, A - B"},
          {"travel_mm", travel_mm},
          {"parts", parts},
          {"total_N", numbers(all.total_N)}};
}

ordered_json nearest_json(const NearestSetting& nearest) {
  return {{"pressure_psi", protocol::in_unit(nearest.pressure_gauge_Pa, "psi")},
          {"spacers", nearest.spacers},
          {"from_mm", nearest.from_m * 1e3},
          {"to_mm", nearest.to_m * 1e3},
          {"rms_as_set_N", nearest.rms_as_set_N},
          {"rms_left_N", nearest.rms_left_N},
          {"largest_left_N", nearest.largest_left_N},
          {"largest_left_at_mm", nearest.largest_left_at_m * 1e3},
          {"thirds_left_N", numbers(nearest.thirds_left_N)},
          {"at_pressure_limit", nearest.at_pressure_limit},
          {"promised_midline_thirds", spans_json(nearest.promised)},
          {"cause", nearest.cause},
          {"cause_N", nearest.cause_N}};
}

ordered_json difference_json(const Difference& difference) {
  return {{"covered_mm", {difference.covered_from_m * 1e3, difference.covered_to_m * 1e3}},
          {"band_factor", difference.band_factor},
          {"travel_mm", numbers(difference.travel_m, 1e3)},
          {"difference_N", numbers(difference.difference_N)},
          {"standard_uncertainty_N", numbers(difference.standard_uncertainty_N)}};
}

// What each element of the slow spring does to A - B, as means over the thirds.
ordered_json elements_json(const Comparison& comparison) {
  ordered_json elements = ordered_json::array();
  if (!comparison.contributions) return elements;
  const Contributions& all = *comparison.contributions;
  for (const Contribution& part : all.parts) {
    if (part.name == kHeatPart || part.name == kHalfLoopPart) continue;
    std::vector<double> thirds_N;
    for (const Span& third : comparison.thirds) {
      thirds_N.push_back(mean_between_N(all, part.difference_N, third.from_m, third.to_m));
    }
    elements.push_back({{"name", part.name}, {"thirds_N", numbers(thirds_N)}});
  }
  return elements;
}

// Places in percent of each fork's own travel.
ordered_json share_json(const std::optional<ComparedByShare>& compared) {
  if (!compared) return nullptr;
  const double to_percent = 100.0 / compared->full_travel_m;
  const auto spans = [&](const std::vector<Span>& list) {
    ordered_json array = ordered_json::array();
    for (const Span& span : list) {
      array.push_back({{"from_percent", span.from_m * to_percent},
                       {"to_percent", span.to_m * to_percent},
                       {"firmer", firmer_name(span.firmer)},
                       {"mean_difference_N", span.mean_difference_N},
                       {"standard_uncertainty_N", span.standard_uncertainty_N}});
    }
    return array;
  };
  ordered_json crossings = ordered_json::array();
  for (const Crossover& crossover : compared->crossings.crossovers) {
    crossings.push_back(
        {{"travel_percent", crossover.travel_m * to_percent},
         {"standard_uncertainty_percent", crossover.standard_uncertainty_m * to_percent},
         {"firmer_above", crossover.a_firmer_behind ? "a" : "b"}});
  }
  return {{"spans", spans(compared->spans)},
          {"thirds", spans(compared->thirds)},
          {"crossovers", crossings}};
}

ordered_json side_json(const Side& side, bool is_record) {
  ordered_json shared = ordered_json::array();
  for (const SharedShift& doubt : side.shared) {
    shared.push_back({{"name", doubt.name}, {"shared_with", doubt.key}});
  }
  return {{"name", side.name},
          {"fork", side.fork},
          {"kind", is_record ? "record" : "model"},
          {"shared_doubts", shared}};
}

}  // namespace

ordered_json compare_json(const Comparison& comparison) {
  ordered_json json;
  json["a"] = side_json(comparison.a, comparison.a_is_record);
  json["b"] = side_json(comparison.b, comparison.b_is_record);
  json["crossovers"] = crossovers_json(comparison.crossings);
  json["spans"] = spans_json(comparison.spans);
  json["thirds"] = spans_json(comparison.thirds);
  json["matched_sag"] = matched_json(comparison);
  json["nearest_setting"] =
      comparison.nearest ? nearest_json(*comparison.nearest) : ordered_json(nullptr);
  json["elements"] = elements_json(comparison);
  json["by_share_of_travel"] = share_json(comparison.by_share);
  json["matched_by_share_of_travel"] = share_json(comparison.matched_by_share);
  const Fairness fairness = judge_fairness(names_of(comparison), comparison);
  json["fairness"] = {{"known", fairness.known},
                      {"comparable", fairness.comparable},
                      {"sentence", fairness.sentence}};
  if (comparison.contributions)
    json["contributions"] = contributions_json(*comparison.contributions);
  json["difference"] = difference_json(comparison.difference);
  json["sentences"] = compare_sentences(comparison);
  json["remarks"] = comparison.remarks;
  return json;
}

}  // namespace fitting
