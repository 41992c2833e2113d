#include "fitting/report/pair_sentences.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fitting/report/numbers.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

constexpr double kSameSag_m = 0.0003;

std::string range_text(const UnitScale& travel, double from_m, double to_m) {
  return travel.number(from_m, 0) + " to " + travel.text(to_m, 0);
}

std::string sag_text(const Sag& sag, const UnitScale& travel) {
  std::string text = travel.number(sag.travel_m, 1);
  if (sag.standard_uncertainty_m) text += " ± " + travel.number(*sag.standard_uncertainty_m, 1);
  text += " " + travel.unit;
  if (sag.least_m && sag.most_m) {
    text += fmt::format(" (friction can hold it anywhere from {})",
                        range_text(travel, *sag.least_m, *sag.most_m));
  }
  return text;
}

}  // namespace

PairWords words_of(const ComparisonInput& input) {
  return {input.a.label, input.b.label, input.units};
}

const ComparedPair* pair_with_models(const ComparisonInput& input) {
  for (const auto& pair : input.pairs) {
    if (pair.answer_a && pair.answer_b) return &pair;
  }
  return nullptr;
}

UnitScale travel_of(const ComparedPair& pair, const ReaderUnits& units) {
  if (!pair.full_travel_m) return units.travel;
  return {"% of travel", 100.0 / *pair.full_travel_m};
}

std::string span_sentence(const Span& span, const PairWords& names, const UnitScale& travel) {
  const std::string where = range_text(travel, span.from_m, span.to_m);
  if (span.firmer == Firmer::neither) {
    return fmt::format("From {} no difference is resolved.", where);
  }
  return fmt::format(
      "{} is firmer from {}, by {} on average.", span.firmer == Firmer::a ? names.a : names.b,
      where,
      names.units.force.doubtful(std::abs(span.mean_difference_N), span.standard_uncertainty_N));
}

std::string crossing_sentence(const ComparedPair& pair, const PairWords& names) {
  const auto& crossings = pair.crossings;
  const UnitScale travel = travel_of(pair, names.units);
  std::string text;
  if (crossings.crossovers.empty()) {
    text = fmt::format("The two curves do not cross between {} and {}.",
                       travel.number(pair.difference.from_m(), 0),
                       travel.text(pair.difference.to_m(), 0));
    if (crossings.unplaced > 0) {
      text =
          "Where the two curves meet they run alongside each other so closely that no crossing can "
          "be "
          "placed.";
    }
    return text;
  }
  for (const auto& crossover : crossings.crossovers) {
    const char* start = text.empty() ? "The two curves cross" : " They cross again";
    text += fmt::format("{} at {}; behind that {} is the firmer one.", start,
                        travel.doubtful(crossover.travel_m, crossover.standard_uncertainty_m),
                        crossover.a_firmer_behind ? names.a : names.b);
  }
  if (crossings.unplaced > 0) text += " Elsewhere they run too close to place another crossing.";
  return text;
}

const Span* leading_span(const ComparedPair& pair) {
  const auto weight = [](const Span& span) {
    if (span.firmer == Firmer::neither) return 0.0;
    return std::abs(span.mean_difference_N) * (span.to_m - span.from_m);
  };
  const auto found = std::max_element(
      pair.spans.begin(), pair.spans.end(),
      [&](const Span& left, const Span& right) { return weight(left) < weight(right); });
  return found == pair.spans.end() || weight(*found) <= 0.0 ? nullptr : &*found;
}

bool same_sag(const ComparedPair& pair) {
  return pair.sag_a && pair.sag_b &&
         std::abs(pair.sag_a->travel_m - pair.sag_b->travel_m) <= kSameSag_m;
}

std::string sag_sentence(const ComparedPair& pair, const PairWords& names) {
  if (!pair.load_N || !pair.sag_a || !pair.sag_b) return "";
  const Sag& a = *pair.sag_a;
  const Sag& b = *pair.sag_b;
  const UnitScale& travel = names.units.travel;
  const std::string load = names.units.force.text(*pair.load_N, 0);
  if (!same_sag(pair)) {
    return fmt::format("Under {} along the fork, {} at {} rests at {}, and {} at {} at {}.", load,
                       names.a, pair.setting_a, sag_text(a, travel), names.b, pair.setting_b,
                       sag_text(b, travel));
  }
  std::string text =
      fmt::format("Under {} along the fork, both rest at {}: {} at {}, {} at {}.", load,
                  travel.text(a.travel_m, 1), names.a, pair.setting_a, names.b, pair.setting_b);
  if (a.least_m && a.most_m && b.least_m && b.most_m) {
    text += fmt::format(" Friction can hold them anywhere from {}, and from {}.",
                        range_text(travel, *a.least_m, *a.most_m),
                        range_text(travel, *b.least_m, *b.most_m));
  }
  return text;
}

std::string reason_sentence(const ComparedPair& pair, const PairWords& names) {
  const Span* span = leading_span(pair);
  if (span == nullptr || !pair.answer_a || !pair.answer_b) return "";
  const double at_m = 0.5 * (span->from_m + span->to_m);
  const Prediction& a = *pair.answer_a;
  const Prediction& b = *pair.answer_b;
  const auto part = [at_m](const Prediction& prediction, const std::string& name) {
    for (const auto& element : prediction.elements) {
      if (element.name == name) return value_at(prediction.travel_m, element.force_N, at_m);
    }
    return 0.0;
  };
  const double total_N =
      value_at(a.travel_m, a.spring_N, at_m) - value_at(b.travel_m, b.spring_N, at_m);
  std::string leading;
  double leading_N = 0.0;
  for (const auto* prediction : {&a, &b}) {
    for (const auto& element : prediction->elements) {
      const double difference_N = part(a, element.name) - part(b, element.name);
      if (difference_N * total_N > 0.0 && std::abs(difference_N) > std::abs(leading_N)) {
        leading = element.name;
        leading_N = difference_N;
      }
    }
  }
  if (leading.empty()) return "";
  const std::string& firmer = total_N > 0.0 ? names.a : names.b;
  const std::string& softer = total_N > 0.0 ? names.b : names.a;
  std::string text = fmt::format(
      "In the middle of that, at {}, the slow spring of {} carries {} more than that of {}; the {} "
      "does most for it, with {}",
      names.units.travel.text(at_m, 0), firmer, names.units.force.text(std::abs(total_N), 1),
      softer, leading, names.units.force.text(std::abs(leading_N), 1));
  if (std::abs(leading_N) > std::abs(total_N)) text += ", part of which the others take back";
  return text + ".";
}

double value_at(const std::vector<double>& travel_m, const std::vector<double>& values,
                double at_m) {
  ENSURE(!travel_m.empty() && travel_m.size() == values.size());
  const auto above = std::lower_bound(travel_m.begin(), travel_m.end(), at_m);
  if (above == travel_m.begin()) return values.front();
  if (above == travel_m.end()) return values.back();
  const auto i = static_cast<std::size_t>(above - travel_m.begin());
  const double share = (at_m - travel_m[i - 1]) / (travel_m[i] - travel_m[i - 1]);
  return values[i - 1] + share * (values[i] - values[i - 1]);
}

}  // namespace fitting
