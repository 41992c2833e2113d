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
                             const FittedModel& model, const std::vector<NamedRecord>& records,
                             const ReaderUnits& units) {
  ReportFork fork{key, label, model, {}};
  const PredictionRequest as_fitted = like_fitted(model, model.context.mean_pressure_gauge_Pa, 0);
  if (Result<LoopSplit> split = split_loop(model, as_fitted)) fork.loop_split = *std::move(split);
  fork.loop_setting = setting_text(as_fitted.pressure_gauge_Pa, 0) + ", at " +
                      units.slow_speed.text(as_fitted.speed_m_s, 1);
  for (const auto& each : records) {
    Result<std::vector<double>> simulated_N = simulated_force_N(model, each.record);
    if (!simulated_N) return protocol::at(each.name, simulated_N.error());
    fork.records.push_back({each.name, each.record, *std::move(simulated_N)});
  }
  return fork;
}

std::string speeds_text(double a_m_s, double b_m_s, const ReaderUnits& units) {
  const std::string a = units.slow_speed.number(a_m_s, 1);
  const std::string b = units.slow_speed.text(b_m_s, 1);
  return a + " " + units.slow_speed.unit == b ? b : a + " and " + b;
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
                                         const ModelSubject& b, const ReaderUnits& units) {
  const MatchedSag& matched = models.matched_sag;
  if (!matched.a || !matched.b || !matched.difference) return std::nullopt;
  ComparedPair pair;
  pair.id = "matched-sag";
  pair.heading = "At matched sag";
  pair.curves = "midlines of settled cycles at " +
                speeds_text(a.setting.speed_m_s, b.setting.speed_m_s, units);
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

// Of sweeps at one setting, the first being the one that is shown.
Result<Comparison> measured_comparison(const Sweeps& a, const Sweeps& b,
                                       const CompareOptions& options) {
  const auto subject = [](const Sweeps& sweeps) {
    Subject out{sweeps.front().name, sweeps.front(), std::nullopt, {}};
    out.again.assign(sweeps.begin() + 1, sweeps.end());
    return out;
  };
  return compare(subject(a), subject(b), options);
}

ComparedPair measured_pair(const Comparison& comparison, const Sweeps& sweeps_a,
                           const Sweeps& sweeps_b, const ReaderUnits& units) {
  const double speed_a_m_s = sweeps_a.front().loop.speed_m_s;
  const double speed_b_m_s = sweeps_b.front().loop.speed_m_s;
  std::string curves = "measured midlines";
  if (speed_a_m_s > 0.0 && speed_b_m_s > 0.0) {
    curves += " at " + speeds_text(speed_a_m_s, speed_b_m_s, units);
  }
  ComparedPair pair = plain_pair(comparison, "as-tested", "As tested", curves);
  const auto& setting_a = sweeps_a.front().metadata.setting;
  const auto& setting_b = sweeps_b.front().metadata.setting;
  pair.setting_a = setting_text(setting_a.pressure_gauge_Pa, setting_a.spacers);
  pair.setting_b = setting_text(setting_b.pressure_gauge_Pa, setting_b.spacers);
  return pair;
}

// A pair in percent of each fork's own travel, beside the one that it is made of.
void add_by_share(const std::optional<ComparedByShare>& compared, ComparisonInput& input) {
  if (!compared) return;
  ComparedPair pair = input.pairs.back();
  pair.id += "-by-share";
  pair.heading += ", in percent of travel";
  pair.full_travel_m = compared->full_travel_m;
  pair.a = compared->a;
  pair.b = compared->b;
  pair.difference = compared->difference;
  pair.crossings = compared->crossings;
  pair.spans = compared->spans;
  pair.thirds = compared->thirds;
  pair.load_N.reset();
  pair.sag_a.reset();
  pair.sag_b.reset();
  pair.answer_a.reset();
  pair.answer_b.reset();
  pair.remarks.clear();
  input.pairs.push_back(std::move(pair));
}

// The front record, and further ones of its setting that say which mounting they are of.
Result<Sweeps> sweeps_of_setting(const std::vector<NamedRecord>& records) {
  Sweeps out;
  for (const NamedRecord& each : records) {
    const bool numbered = each.record.metadata.conditions.mounting.has_value();
    const bool first = &each == &records.front();
    if (!first && !(numbered && records.front().record.metadata.conditions.mounting)) continue;
    Result<CurveAnswer> curve = answer_curve(each.name, each.record);
    if (!curve) return curve.error();
    out.push_back(*std::move(curve));
    if (!first && !check_repeats({out.front(), out.back()})) out.pop_back();
  }
  return out;
}

Result<void> add_pairs(const ReportRequest& request, const Sweeps& sweeps_a, const Sweeps& sweeps_b,
                       ComparisonInput& input) {
  const auto& setting_a = sweeps_a.front().metadata.setting;
  const auto& setting_b = sweeps_b.front().metadata.setting;
  const ModelSubject model_a =
      model_subject(request.model_a, setting_a.pressure_gauge_Pa, setting_a.spacers);
  const ModelSubject model_b =
      model_subject(request.model_b, setting_b.pressure_gauge_Pa, setting_b.spacers);
  const auto repeats = [](const Sweeps& sweeps) { return sweeps.size() > 1 ? sweeps : Sweeps{}; };
  const Result<Comparison> models =
      compare({request.name_a, std::nullopt, model_a, repeats(sweeps_a)},
              {request.name_b, std::nullopt, model_b, repeats(sweeps_b)}, request.compare);
  if (!models) return models.error();
  input.nearest = models->nearest;
  if (auto pair = matched_pair(*models, model_a, model_b, request.units)) {
    input.pairs.push_back(*std::move(pair));
    add_by_share(models->matched_by_share, input);
  } else {
    ComparedPair as_set = plain_pair(
        *models, "as-set", "As set",
        "midlines of settled cycles at " +
            speeds_text(model_a.setting.speed_m_s, model_b.setting.speed_m_s, request.units));
    as_set.setting_a = setting_text(setting_a.pressure_gauge_Pa, setting_a.spacers);
    as_set.setting_b = setting_text(setting_b.pressure_gauge_Pa, setting_b.spacers);
    input.pairs.push_back(std::move(as_set));
    add_by_share(models->by_share, input);
    input.cautions.push_back(
        "The sags were not matched: " + models->matched_sag.not_matched_reason + ".");
  }
  const Result<Comparison> measured = measured_comparison(sweeps_a, sweeps_b, request.compare);
  if (!measured) return measured.error();
  input.pairs.push_back(measured_pair(*measured, sweeps_a, sweeps_b, request.units));
  add_by_share(measured->by_share, input);
  return {};
}

void add_rides(const ReportRequest& request, ComparisonInput& input) {
  std::vector<const TimeByTravel*> times;
  for (const auto& [trace, answer] :
       {std::pair{&request.ride_a, &input.rides.a}, {&request.ride_b, &input.rides.b}}) {
    if (!*trace) continue;
    *answer = answer_ride(**trace, request.ride_question);
    times.push_back(&(*answer)->time);
  }
  if (!times.empty()) input.rides.met = weigh_by_ride(input.pairs.front().difference, times);
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
      make_fork("a", alike ? fork_a + " (A)" : fork_a, request.model_a, records_a, request.units);
  if (!a) return a.error();
  Result<ReportFork> b =
      make_fork("b", alike ? fork_b + " (B)" : fork_b, request.model_b, records_b, request.units);
  if (!b) return b.error();
  input.a = *std::move(a);
  input.b = *std::move(b);
  input.title = request.title.empty() ? input.a.label + " against " + input.b.label : request.title;
  input.program = request.program;
  input.made = request.made;
  input.units = request.units;
  const Result<Sweeps> sweeps_a = sweeps_of_setting(records_a);
  if (!sweeps_a) return sweeps_a.error();
  const Result<Sweeps> sweeps_b = sweeps_of_setting(records_b);
  if (!sweeps_b) return sweeps_b.error();
  if (auto ok = add_pairs(request, *sweeps_a, *sweeps_b, input); !ok) return ok.error();
  input.mounts = *mount_scatter(*sweeps_a, *sweeps_b);
  add_rides(request, input);
  return input;
}

}  // namespace fitting
