#include "fitting/compare/comparison.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <utility>

#include "fitting/compare/promise.hpp"

namespace fitting {
namespace {

using protocol::Result;

// All sweeps of the setting; of a record, itself the first.
std::vector<CurveAnswer> repeats_of(const Subject& subject) {
  std::vector<CurveAnswer> out = subject.again;
  if (subject.record) out.insert(out.begin(), *subject.record);
  return out;
}

Side side_of(const PreparedSubject& fork) {
  if (fork.subject.record) return side_from_record(*fork.subject.record);
  return side_from_prediction(fork.subject.name, fork.subject.model->model, *fork.prediction);
}

Result<Side> side_of_repeats(const PreparedSubject& fork) {
  if (!fork.subject.record || fork.subject.again.empty()) return side_of(fork);
  return side_from_records(repeats_of(fork.subject));
}

// The options with what the repeats tell of mounting the forks anew.
Result<DifferenceOptions> with_mounts(const Subject& a, const Subject& b,
                                      const DifferenceOptions& options) {
  DifferenceOptions out = options;
  if (a.again.empty() && b.again.empty()) return out;
  Result<std::optional<MountScatter>> scatter = mount_scatter(repeats_of(a), repeats_of(b));
  if (!scatter) return scatter.error();
  out.mounts = *std::move(scatter);
  return out;
}

void add_mount_remark(const std::optional<MountScatter>& mounts, bool asked,
                      std::vector<std::string>& out) {
  if (mounts) {
    out.push_back(fmt::format(
        "mounting a fork anew moved its midline by {:.1f} N rms ({} mountings of A, {} of B; {} "
        "degrees of freedom); every uncertainty of a difference holds that",
        mounts->rms_N, mounts->mountings_a, mounts->mountings_b, mounts->degrees_of_freedom));
  } else if (asked) {
    out.push_back(
        "all sweeps of each fork are of one mounting, so what mounting anew changes is "
        "not in the uncertainties");
  }
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
  const Result<DifferenceOptions> with = with_mounts(a, b, options.difference);
  if (!with) return with.error();
  Comparison out;
  Result<Side> side_a = side_of_repeats(*fork_a);
  if (!side_a) return side_a.error();
  Result<Side> side_b = side_of_repeats(*fork_b);
  if (!side_b) return side_b.error();
  out.a = *std::move(side_a);
  out.b = *std::move(side_b);
  out.a_is_record = a.record.has_value();
  out.b_is_record = b.record.has_value();
  Result<Difference> difference = difference_of(out.a, out.b, *with);
  if (!difference) return difference.error();
  out.difference = *std::move(difference);
  out.crossings = find_crossovers(out.difference);
  out.spans = find_spans(out.difference);
  out.thirds = find_thirds(out.difference);
  if (a.model && b.model) {
    out.contributions = contributions_of(*fork_a->prediction, *fork_b->prediction);
    Result<NearestSetting> nearest = find_nearest_setting(*a.model, *b.model, options.nearest);
    if (nearest) {
      const Result<void> promised = make_promise(*fork_a, b, *with, *nearest);
      if (!promised) {
        out.remarks.push_back("what that setting will show cannot be said: " +
                              promised.error().message);
      }
      out.nearest = *std::move(nearest);
    } else if (options.nearest.range) {
      return nearest.error();  // what was asked for in so many words
    } else {
      out.remarks.push_back("no setting of B could be looked for: " + nearest.error().message);
    }
  }
  Result<MatchedSag> matched = match_sag(*fork_a, *fork_b, options.sag, *with);
  if (!matched) return matched.error();
  out.matched_sag = *std::move(matched);
  out.by_share = compare_by_share(out.a, out.b, *with);
  if (out.matched_sag.a && out.matched_sag.b) {
    out.matched_by_share = compare_by_share(
        side_from_prediction(out.a.name, a.model->model, out.matched_sag.a->prediction),
        side_from_prediction(out.b.name, b.model->model, out.matched_sag.b->prediction), *with);
  }
  add_mount_remark(with->mounts, !a.again.empty() || !b.again.empty(), out.remarks);
  add_remarks(out, out.remarks);
  return out;
}

}  // namespace fitting
