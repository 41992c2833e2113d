#include "fitting/report/comparison_input.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "fitting/report/numbers.hpp"
#include "fitting/report/simulated_loop.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

std::string setting_text(double pressure_gauge_Pa, int spacers) {
  return shown_setting(pressure_gauge_Pa, spacers);
}

Result<void> check_records(const FittedModel& model, const std::string& name,
                           const std::vector<NamedRecord>& records) {
  if (records.empty()) {
    return Error{
        Errc::input_out_of_range,
        fmt::format("no record was given for {}; a report shows what was measured, so name "
                    "at least one",
                    name)};
  }
  for (const auto& each : records) {
    const std::string& fork = each.record.metadata.fork.name;
    if (fork != model.fork.name) {
      return Error{Errc::input_out_of_range,
                   fmt::format("the record {} is of '{}', but the model {} is of '{}'; give the "
                               "records that belong to the model",
                               each.name, fork, name, model.fork.name)};
    }
  }
  return {};
}

// How unlike two settings are: one spacer counts as much as 10 psi.
double apart(const protocol::Setting& a, const protocol::Setting& b) {
  const double pressure_psi =
      protocol::in_unit(std::abs(a.pressure_gauge_Pa - b.pressure_gauge_Pa), "psi");
  return pressure_psi / 10.0 + std::abs(a.spacers - b.spacers);
}

// Brings the two records of most alike settings to the front of their lists.
void put_most_alike_first(std::vector<NamedRecord>& a, std::vector<NamedRecord>& b) {
  std::size_t best_a = 0;
  std::size_t best_b = 0;
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < a.size(); ++i) {
    for (std::size_t k = 0; k < b.size(); ++k) {
      const double distance = apart(a[i].record.metadata.setting, b[k].record.metadata.setting);
      if (distance < least) {
        least = distance;
        best_a = i;
        best_b = k;
      }
    }
  }
  const auto to_front = [](std::vector<NamedRecord>& list, std::size_t index) {
    std::rotate(list.begin(), list.begin() + static_cast<std::ptrdiff_t>(index),
                list.begin() + static_cast<std::ptrdiff_t>(index) + 1);
  };
  to_front(a, best_a);
  to_front(b, best_b);
}

Result<ReportFork> make_fork(const std::string& key, const std::string& label,
                             const FittedModel& model, const std::vector<NamedRecord>& records) {
  ReportFork fork{key, label, model, {}};
  const PredictionRequest as_fitted = like_fitted(model, model.context.mean_pressure_gauge_Pa, 0);
  if (Result<LoopSplit> split = split_loop(model, as_fitted)) fork.loop_split = *std::move(split);
  fork.loop_setting = setting_text(as_fitted.pressure_gauge_Pa, 0) + ", at " +
                      rounded(1e3 * as_fitted.speed_m_s, 1) + " mm/s";
  for (const auto& each : records) {
    Result<std::vector<double>> simulated_N = simulated_force_N(model, each.record);
    if (!simulated_N) return protocol::at(each.name, simulated_N.error());
    fork.records.push_back({each.name, each.record, *std::move(simulated_N)});
  }
  return fork;
}

std::string speeds_text(double a_m_s, double b_m_s) {
  const std::string a = rounded(1e3 * a_m_s, 1);
  const std::string b = rounded(1e3 * b_m_s, 1);
  return a == b ? a + " mm/s" : a + " and " + b + " mm/s";
}

// Nothing needs to be said where the load was asked for.
std::string load_source(const MatchedSag& matched) {
  return matched.load_source == "as asked" ? "" : matched.load_source;
}

std::string pumped_text(const MatchedFork& fork, int spacers) {
  if (fork.added_preload_N) return preload_words(*fork.added_preload_N);
  if (!fork.pressure_standard_uncertainty_Pa) {
    return setting_text(fork.pressure_gauge_Pa, spacers);
  }
  return shown_gauge_pressure(fork.pressure_gauge_Pa, *fork.pressure_standard_uncertainty_Pa) +
         ", " + shown_spacers(spacers);
}

// Both models pumped for the same sag; none where no pressure does it.
std::optional<ComparedPair> matched_pair(const Comparison& models, const ModelSubject& a,
                                         const ModelSubject& b) {
  const MatchedSag& matched = models.matched_sag;
  if (!matched.a || !matched.b || !matched.difference) return std::nullopt;
  ComparedPair pair;
  pair.id = "matched-sag";
  pair.heading = "At matched sag";
  pair.curves =
      "midlines of settled cycles at " + speeds_text(a.setting.speed_m_s, b.setting.speed_m_s);
  pair.a = side_from_prediction(models.a.name, a.model, matched.a->prediction);
  pair.b = side_from_prediction(models.b.name, b.model, matched.b->prediction);
  pair.setting_a = pumped_text(*matched.a, a.setting.spacers);
  pair.setting_b = pumped_text(*matched.b, b.setting.spacers);
  pair.difference = *matched.difference;
  pair.crossings = matched.crossings;
  pair.spans = matched.spans;
  pair.thirds = matched.thirds;
  pair.load_N = matched.load_N;
  pair.load_source = load_source(matched);
  pair.sag_a = matched.a->resting.sag;
  pair.sag_b = matched.b->resting.sag;
  pair.answer_a = matched.a->prediction;
  pair.answer_b = matched.b->prediction;
  pair.remarks = {"The sag that both are pumped for: " + matched.sag_source +
                  ". It is that of the slow spring, at rest; a midline at the speed of the test "
                  "lies a little off it."};
  return pair;
}

ComparedPair plain_pair(const Comparison& comparison, const std::string& id,
                        const std::string& heading, const std::string& curves) {
  ComparedPair pair;
  pair.id = id;
  pair.heading = heading;
  pair.curves = curves;
  pair.a = comparison.a;
  pair.b = comparison.b;
  pair.difference = comparison.difference;
  pair.crossings = comparison.crossings;
  pair.spans = comparison.spans;
  pair.thirds = comparison.thirds;
  pair.load_N = comparison.matched_sag.load_N;
  pair.load_source = load_source(comparison.matched_sag);
  pair.sag_a = comparison.matched_sag.as_tested_a.sag;
  pair.sag_b = comparison.matched_sag.as_tested_b.sag;
  pair.remarks = comparison.remarks;
  return pair;
}

Result<ComparedPair> measured_pair(const NamedRecord& a, const NamedRecord& b,
                                   const CompareOptions& options) {
  Result<CurveAnswer> curve_a = answer_curve(a.name, a.record);
  if (!curve_a) return curve_a.error();
  Result<CurveAnswer> curve_b = answer_curve(b.name, b.record);
  if (!curve_b) return curve_b.error();
  const double speed_a_m_s = curve_a->loop.speed_m_s;
  const double speed_b_m_s = curve_b->loop.speed_m_s;
  const Result<Comparison> comparison =
      compare({a.name, *std::move(curve_a), std::nullopt},
              {b.name, *std::move(curve_b), std::nullopt}, options);
  if (!comparison) return comparison.error();
  std::string curves = "measured midlines";
  if (speed_a_m_s > 0.0 && speed_b_m_s > 0.0) {
    curves += " at " + speeds_text(speed_a_m_s, speed_b_m_s);
  }
  ComparedPair pair = plain_pair(*comparison, "as-tested", "As tested", curves);
  const auto& setting_a = a.record.metadata.setting;
  const auto& setting_b = b.record.metadata.setting;
  pair.setting_a = setting_text(setting_a.pressure_gauge_Pa, setting_a.spacers);
  pair.setting_b = setting_text(setting_b.pressure_gauge_Pa, setting_b.spacers);
  return pair;
}

Result<void> add_pairs(const ReportRequest& request, const NamedRecord& a, const NamedRecord& b,
                       ComparisonInput& input) {
  const auto& setting_a = a.record.metadata.setting;
  const auto& setting_b = b.record.metadata.setting;
  const ModelSubject model_a =
      model_subject(request.model_a, setting_a.pressure_gauge_Pa, setting_a.spacers);
  const ModelSubject model_b =
      model_subject(request.model_b, setting_b.pressure_gauge_Pa, setting_b.spacers);
  const Result<Comparison> models =
      compare({request.name_a, std::nullopt, model_a}, {request.name_b, std::nullopt, model_b},
              request.compare);
  if (!models) return models.error();
  input.nearest = models->nearest;
  if (auto pair = matched_pair(*models, model_a, model_b)) {
    input.pairs.push_back(*std::move(pair));
  } else {
    ComparedPair as_set =
        plain_pair(*models, "as-set", "As set",
                   "midlines of settled cycles at " +
                       speeds_text(model_a.setting.speed_m_s, model_b.setting.speed_m_s));
    as_set.setting_a = setting_text(setting_a.pressure_gauge_Pa, setting_a.spacers);
    as_set.setting_b = setting_text(setting_b.pressure_gauge_Pa, setting_b.spacers);
    input.pairs.push_back(std::move(as_set));
    input.cautions.push_back(
        "The sags were not matched: " + models->matched_sag.not_matched_reason + ".");
  }
  Result<ComparedPair> measured = measured_pair(a, b, request.compare);
  if (!measured) return measured.error();
  input.pairs.push_back(*std::move(measured));
  return {};
}

}  // namespace

Result<ComparisonInput> make_comparison_input(const ReportRequest& request) {
  if (auto ok = check_records(request.model_a, request.name_a, request.records_a); !ok) {
    return ok.error();
  }
  if (auto ok = check_records(request.model_b, request.name_b, request.records_b); !ok) {
    return ok.error();
  }
  std::vector<NamedRecord> records_a = request.records_a;
  std::vector<NamedRecord> records_b = request.records_b;
  put_most_alike_first(records_a, records_b);

  ComparisonInput input;
  const std::string& fork_a = request.model_a.fork.name;
  const std::string& fork_b = request.model_b.fork.name;
  const bool alike = fork_a == fork_b;
  Result<ReportFork> a =
      make_fork("a", alike ? fork_a + " (A)" : fork_a, request.model_a, records_a);
  if (!a) return a.error();
  Result<ReportFork> b =
      make_fork("b", alike ? fork_b + " (B)" : fork_b, request.model_b, records_b);
  if (!b) return b.error();
  input.a = *std::move(a);
  input.b = *std::move(b);
  input.title = request.title.empty() ? input.a.label + " against " + input.b.label : request.title;
  input.program = request.program;
  input.made = request.made;
  if (auto ok = add_pairs(request, records_a.front(), records_b.front(), input); !ok) {
    return ok.error();
  }
  return input;
}

}  // namespace fitting
