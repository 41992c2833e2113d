#include "fitting/compare/comparison.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <utility>

#include "fitting/compare/promise.hpp"

namespace fitting {
namespace {

using protocol::Result;

Side side_of(const PreparedSubject& fork) {
  if (fork.subject.record) return side_from_record(*fork.subject.record);
  return side_from_prediction(fork.subject.name, fork.subject.model->model, *fork.prediction);
}

std::vector<ElementDifference> elements_by_thirds(const Contributions& all,
                                                  const std::vector<Span>& thirds) {
  std::vector<ElementDifference> out;
  for (const Contribution& part : all.parts) {
    if (part.name == kHeatPart || part.name == kHalfLoopPart) continue;
    out.push_back({part.name, {}});
    for (const Span& third : thirds) {
      out.back().thirds_N.push_back(
          mean_between_N(all, part.difference_N, third.from_m, third.to_m));
    }
  }
  return out;
}

void add_remarks(const Comparison& comparison, std::vector<std::string>& out) {
  for (const Side* side : {&comparison.a, &comparison.b}) {
    for (const std::string& remark : side->remarks) out.push_back(side->name + ": " + remark);
  }
  if (comparison.a_is_record != comparison.b_is_record) {
    out.push_back("a measured midline is compared with a predicted one: mind the speeds of both");
  }
  const auto note_unplaced = [&](const Crossings& crossings, const char* where) {
    if (crossings.unplaced == 0) return;
    out.push_back(fmt::format(
        "{}the curves run alongside each other where they meet: no crossing can be placed there",
        where));
  };
  note_unplaced(comparison.crossings, "");
  note_unplaced(comparison.matched_sag.crossings, "at matched sag ");
}

}  // namespace

Result<Comparison> compare(const Subject& a, const Subject& b, const CompareOptions& options) {
  const Result<PreparedSubject> fork_a = prepare(a);
  if (!fork_a) return fork_a.error();
  const Result<PreparedSubject> fork_b = prepare(b);
  if (!fork_b) return fork_b.error();
  Comparison out;
  out.a = side_of(*fork_a);
  out.b = side_of(*fork_b);
  out.a_is_record = a.record.has_value();
  out.b_is_record = b.record.has_value();
  Result<Difference> difference = difference_of(out.a, out.b, options.difference);
  if (!difference) return difference.error();
  out.difference = *std::move(difference);
  out.crossings = find_crossovers(out.difference);
  out.spans = find_spans(out.difference);
  out.thirds = find_thirds(out.difference);
  if (a.model && b.model) {
    out.contributions = contributions_of(*fork_a->prediction, *fork_b->prediction);
    out.elements = elements_by_thirds(*out.contributions, out.thirds);
    Result<NearestSetting> nearest = find_nearest_setting(*a.model, *b.model, options.nearest);
    if (nearest) {
      const Result<void> promised = make_promise(*fork_a, b, options.difference, *nearest);
      if (!promised) {
        out.remarks.push_back("what that setting will show cannot be said: " +
                              promised.error().message);
      }
      out.nearest = *std::move(nearest);
    } else {
      out.remarks.push_back("no setting of B could be looked for: " + nearest.error().message);
    }
  }
  Result<MatchedSag> matched = match_sag(*fork_a, *fork_b, options.sag, options.difference);
  if (!matched) return matched.error();
  out.matched_sag = *std::move(matched);
  add_remarks(out, out.remarks);
  return out;
}

}  // namespace fitting
