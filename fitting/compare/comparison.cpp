#include "fitting/compare/comparison.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <utility>

namespace fitting {
namespace {

using protocol::Result;

// A subject's curve, and the prediction behind it where it is a model.
struct Prepared {
  Side side;
  std::optional<Prediction> prediction;
};

Result<Prepared> prepare(const Subject& subject) {
  if (subject.record) return Prepared{side_from_record(*subject.record), std::nullopt};
  Result<Prediction> prediction = subject.model->predict(subject.model->setting);
  if (!prediction) return protocol::at(subject.name, prediction.error());
  Side side = side_from_prediction(subject.name, subject.model->model, *prediction);
  return Prepared{std::move(side), *std::move(prediction)};
}

double mean_between(const Prediction& prediction, const std::vector<double>& force_N, double from_m,
                    double to_m) {
  double sum = 0.0;
  int count = 0;
  for (std::size_t i = 0; i < prediction.travel_m.size(); ++i) {
    if (prediction.travel_m[i] < from_m || prediction.travel_m[i] > to_m) continue;
    sum += force_N[i];
    ++count;
  }
  return count > 0 ? sum / count : 0.0;
}

std::vector<ElementDifference> compare_elements(const Prediction& a, const Prediction& b,
                                                const std::vector<Span>& thirds) {
  std::vector<ElementDifference> differences;
  const auto collect = [&](const Prediction& prediction, double sign) {
    for (const ElementForce& element : prediction.elements) {
      auto found = std::find_if(differences.begin(), differences.end(),
                                [&](const auto& known) { return known.name == element.name; });
      if (found == differences.end()) {
        differences.push_back({element.name, std::vector<double>(thirds.size(), 0.0)});
        found = differences.end() - 1;
      }
      for (std::size_t k = 0; k < thirds.size(); ++k) {
        found->thirds_N[k] +=
            sign * mean_between(prediction, element.force_N, thirds[k].from_m, thirds[k].to_m);
      }
    }
  };
  collect(a, +1.0);
  collect(b, -1.0);
  return differences;
}

void add_remarks(const Comparison& comparison, std::vector<std::string>& out) {
  for (const Side* side : {&comparison.a, &comparison.b}) {
    for (const std::string& remark : side->remarks) out.push_back(side->name + ": " + remark);
  }
  if (comparison.a_is_record != comparison.b_is_record) {
    out.push_back("a measured midline is compared with a predicted one: mind the speeds of both");
  }
  if (comparison.crossings.unplaced > 0) {
    out.push_back(
        "the curves run alongside each other where they meet: no crossing can be placed "
        "there");
  }
}

}  // namespace

Result<Comparison> compare(const Subject& a, const Subject& b, const CompareOptions& options) {
  ENSURE(a.record.has_value() != a.model.has_value());
  ENSURE(b.record.has_value() != b.model.has_value());
  Result<Prepared> prepared_a = prepare(a);
  if (!prepared_a) return prepared_a.error();
  Result<Prepared> prepared_b = prepare(b);
  if (!prepared_b) return prepared_b.error();
  Result<Difference> difference =
      difference_of(prepared_a->side, prepared_b->side, options.difference);
  if (!difference) return difference.error();

  Comparison out;
  out.a_is_record = a.record.has_value();
  out.b_is_record = b.record.has_value();
  out.difference = *std::move(difference);
  out.crossings = find_crossovers(out.difference);
  out.spans = find_spans(out.difference);
  out.thirds = find_thirds(out.difference);
  if (prepared_a->prediction && prepared_b->prediction) {
    out.elements = compare_elements(*prepared_a->prediction, *prepared_b->prediction, out.thirds);
    Result<NearestSetting> nearest = find_nearest_setting(*a.model, *b.model, options.nearest);
    if (nearest) {
      out.nearest = *std::move(nearest);
    } else {
      out.remarks.push_back("no setting of B could be looked for: " + nearest.error().message);
    }
  }
  out.a = std::move(prepared_a->side);
  out.b = std::move(prepared_b->side);
  Result<MatchedSag> matched = match_sag(a, b, options.sag, options.difference);
  if (!matched) return matched.error();
  out.matched_sag = *std::move(matched);
  add_remarks(out, out.remarks);
  return out;
}

}  // namespace fitting
