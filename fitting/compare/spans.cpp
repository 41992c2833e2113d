#include "fitting/compare/spans.hpp"

#include <algorithm>

namespace fitting {
namespace {

// Two-sided 95 % for three verdicts at once: the normal quantile at 1 - 0.05 / 6.
constexpr double kThreeAtOnce95 = 2.394;

// A gap in a firmer stretch that is shorter than this is the band grazed, not an answer of its own.
constexpr double kGapMin_m = 0.002;

// Rounding must not make one of two equal curves the firmer.
constexpr double kNothing_N = 1e-6;

Firmer verdict(double difference_N, double band_N) {
  const double limit_N = std::max(kNothing_N, band_N);
  if (difference_N > limit_N) return Firmer::a;
  if (difference_N < -limit_N) return Firmer::b;
  return Firmer::neither;
}

struct Run {
  Eigen::Index first = 0;
  Eigen::Index last = 0;
  Firmer firmer = Firmer::neither;
};

std::vector<Run> runs_of(const std::vector<Firmer>& verdicts) {
  std::vector<Run> runs;
  for (std::size_t i = 0; i < verdicts.size(); ++i) {
    const auto k = static_cast<Eigen::Index>(i);
    if (runs.empty() || runs.back().firmer != verdicts[i]) {
      runs.push_back({k, k, verdicts[i]});
    } else {
      runs.back().last = k;
    }
  }
  return runs;
}

Span span_between(const Difference& difference, Eigen::Index first, Eigen::Index last) {
  Span span;
  // A verdict holds up to half way to the next point.
  const double half_m = 0.5 * difference.step_m;
  span.from_m =
      std::max(difference.from_m(), difference.travel_m[static_cast<std::size_t>(first)] - half_m);
  span.to_m =
      std::min(difference.to_m(), difference.travel_m[static_cast<std::size_t>(last)] + half_m);
  span.mean_difference_N = difference.mean_N(first, last);
  span.standard_uncertainty_N = difference.mean_uncertainty_N(first, last);
  return span;
}

}  // namespace

const char* firmer_name(Firmer firmer) {
  switch (firmer) {
    case Firmer::a:
      return "a";
    case Firmer::b:
      return "b";
    case Firmer::neither:
      break;
  }
  return "neither";
}

std::vector<Span> find_spans(const Difference& difference) {
  std::vector<Firmer> verdicts;
  for (Eigen::Index i = 0; i < difference.size(); ++i) {
    verdicts.push_back(verdict(difference.difference_N(i),
                               difference.band_factor * difference.standard_uncertainty_N(i)));
  }
  const std::vector<Run> raw = runs_of(verdicts);
  for (std::size_t k = 1; k + 1 < raw.size(); ++k) {
    const double length_m = static_cast<double>(raw[k].last - raw[k].first + 1) * difference.step_m;
    if (raw[k].firmer != Firmer::neither || raw[k - 1].firmer != raw[k + 1].firmer) continue;
    if (length_m >= kGapMin_m) continue;
    for (Eigen::Index i = raw[k].first; i <= raw[k].last; ++i) {
      verdicts[static_cast<std::size_t>(i)] = raw[k - 1].firmer;
    }
  }
  std::vector<Span> spans;
  for (const Run& run : runs_of(verdicts)) {
    spans.push_back(span_between(difference, run.first, run.last));
    spans.back().firmer = run.firmer;
  }
  return spans;
}

std::vector<Span> find_thirds(const Difference& difference) {
  std::vector<Span> thirds;
  const double length_m = (difference.to_m() - difference.from_m()) / 3.0;
  const Eigen::Index n = difference.size();
  for (Eigen::Index part = 0; part < 3; ++part) {
    const Eigen::Index first = part * (n - 1) / 3;
    const Eigen::Index last = (part + 1) * (n - 1) / 3;
    Span third = span_between(difference, first, last);
    third.from_m = difference.from_m() + static_cast<double>(part) * length_m;
    third.to_m = third.from_m + length_m;
    third.firmer = verdict(third.mean_difference_N, kThreeAtOnce95 * third.standard_uncertainty_N);
    thirds.push_back(third);
  }
  return thirds;
}

}  // namespace fitting
