#include "fitting/compare/sentences.hpp"

#include <fmt/core.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fitting/compare/fairness.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

std::string mm(double travel_m) {
  return fmt::format("{:.0f} mm", travel_m * 1e3);
}

std::string mm_fine(double travel_m) {
  return fmt::format("{:.1f} mm", travel_m * 1e3);
}

std::string psi(double pressure_Pa) {
  return fmt::format("{:.1f} psi", protocol::in_unit(pressure_Pa, "psi"));
}

std::string spacers_text(int spacers) {
  return spacers == 1 ? "1 spacer" : fmt::format("{} spacers", spacers);
}

// Newtons with as many digits as their doubt deserves.
std::string newtons(double force_N, double doubt_N) {
  const int digits = doubt_N < 0.95 ? 1 : 0;
  return fmt::format("{:.{}f} N +- {:.{}f} N", std::abs(force_N), digits, doubt_N, digits);
}

std::string join_ranges(const std::vector<std::string>& ranges) {
  std::string text;
  for (std::size_t i = 0; i < ranges.size(); ++i) {
    if (i > 0) text += i + 1 == ranges.size() ? " and " : ", ";
    text += ranges[i];
  }
  return text;
}

std::string sag_text(const RestingFork& resting, double travel_m) {
  if (!resting.sag) return "does not come to rest within the travel known";
  std::string text = fmt::format("sags {}", mm_fine(resting.sag->travel_m));
  if (resting.sag->standard_uncertainty_m) {
    text += " +- " + mm_fine(*resting.sag->standard_uncertainty_m);
  }
  text += fmt::format(" ({:.0f} %)", 100.0 * resting.sag->travel_m / travel_m);
  if (resting.sag->least_m && resting.sag->most_m) {
    text += fmt::format(", and friction lets it rest anywhere from {} to {}",
                        mm_fine(*resting.sag->least_m), mm_fine(*resting.sag->most_m));
  }
  return text;
}

void append(std::vector<std::string>& out, std::vector<std::string> more) {
  for (std::string& sentence : more) out.push_back(std::move(sentence));
}

}  // namespace

Names names_of(const Comparison& comparison) {
  const bool forks_differ = comparison.a.fork != comparison.b.fork && !comparison.a.fork.empty() &&
                            !comparison.b.fork.empty();
  if (forks_differ) return {comparison.a.fork, comparison.b.fork};
  if (comparison.a.name != comparison.b.name) return {comparison.a.name, comparison.b.name};
  return {"A", "B"};
}

std::vector<std::string> span_sentences(const Names& names, const std::vector<Span>& spans) {
  std::vector<std::string> sentences;
  std::vector<std::string> unresolved;
  for (const Span& span : spans) {
    const std::string range = fmt::format("from {} to {}", mm(span.from_m), mm(span.to_m));
    if (span.firmer == Firmer::neither) {
      unresolved.push_back(range);
      continue;
    }
    sentences.push_back(fmt::format("{} is firmer {}, by {} on average.",
                                    span.firmer == Firmer::a ? names.a : names.b, range,
                                    newtons(span.mean_difference_N, span.standard_uncertainty_N)));
  }
  if (!unresolved.empty()) {
    sentences.push_back(fmt::format("No difference is resolved {}.", join_ranges(unresolved)));
  }
  return sentences;
}

std::vector<std::string> crossover_sentences(const Names& names, const Crossings& crossings) {
  std::vector<std::string> sentences;
  for (const Crossover& crossover : crossings.crossovers) {
    sentences.push_back(
        fmt::format("They cross at {} +- {}: below it {} is the higher, above it {}.",
                    mm_fine(crossover.travel_m), mm_fine(crossover.standard_uncertainty_m),
                    crossover.a_firmer_behind ? names.b : names.a,
                    crossover.a_firmer_behind ? names.a : names.b));
  }
  return sentences;
}

std::vector<std::string> share_sentences(const Names& names, const ComparedByShare& compared,
                                         const std::string& when) {
  const auto percent = [&](double travel_m) {
    return fmt::format("{:.0f} %", 100.0 * travel_m / compared.full_travel_m);
  };
  std::vector<std::string> firmer;
  for (const Span& span : compared.spans) {
    if (span.firmer == Firmer::neither) continue;
    firmer.push_back(fmt::format("{} from {} to {} by {}",
                                 span.firmer == Firmer::a ? names.a : names.b, percent(span.from_m),
                                 percent(span.to_m),
                                 newtons(span.mean_difference_N, span.standard_uncertainty_N)));
  }
  const std::string start = when + ", in percent of each fork's own travel, ";
  std::vector<std::string> out = {firmer.empty()
                                      ? start + "no difference is resolved."
                                      : start + "the firmer is " + join_ranges(firmer) + "."};
  for (const Crossover& crossover : compared.crossings.crossovers) {
    out.push_back(fmt::format("{}, they cross at {:.1f} % +- {:.1f} % of travel.", when,
                              100.0 * crossover.travel_m / compared.full_travel_m,
                              100.0 * crossover.standard_uncertainty_m / compared.full_travel_m));
  }
  return out;
}

std::vector<std::string> sag_sentences(const Names& names, const Comparison& comparison) {
  const MatchedSag& matched = comparison.matched_sag;
  std::vector<std::string> sentences;
  sentences.push_back(
      fmt::format("The load along the fork is {:.0f} N, {}.", matched.load_N, matched.load_source));
  const std::string how = comparison.a_is_record && comparison.b_is_record ? "As tested" : "As set";
  sentences.push_back(fmt::format(
      "{} {} {}; {} {}.", how, names.a, sag_text(matched.as_tested_a, comparison.a.fork_travel_m),
      names.b, sag_text(matched.as_tested_b, comparison.b.fork_travel_m)));
  if (!matched.a || !matched.b) {
    sentences.push_back(fmt::format("The sags were not matched: {}.", matched.not_matched_reason));
    return sentences;
  }
  const auto pressure = [](const MatchedFork& fork) {
    if (fork.added_preload_N) return preload_words(*fork.added_preload_N);
    std::string text = psi(fork.pressure_gauge_Pa);
    if (fork.pressure_standard_uncertainty_Pa) {
      text += " +- " + psi(*fork.pressure_standard_uncertainty_Pa);
    }
    return text;
  };
  sentences.push_back(fmt::format("For the same sag ({}) {} needs {} and {} needs {}.",
                                  matched.sag_source, names.a, pressure(*matched.a), names.b,
                                  pressure(*matched.b)));
  for (std::string& sentence : span_sentences(names, matched.spans)) {
    sentences.push_back("At matched sag: " + sentence);
  }
  for (std::string& sentence : crossover_sentences(names, matched.crossings)) {
    sentences.push_back("At matched sag: " + sentence);
  }
  return sentences;
}

std::vector<std::string> nearest_sentences(const Names& names, const NearestSetting& nearest) {
  std::vector<std::string> sentences;
  sentences.push_back(fmt::format(
      "{} comes closest to {} at {:.0f} psi with {}: over {} to {} they then differ by {:.1f} N "
      "rms, against {:.1f} N as set.",
      names.b, names.a, protocol::in_unit(nearest.pressure_gauge_Pa, "psi"),
      spacers_text(nearest.spacers), mm(nearest.from_m), mm(nearest.to_m), nearest.rms_left_N,
      nearest.rms_as_set_N));
  sentences.push_back(fmt::format(
      "No pressure and spacer count removes the rest: at most {:.1f} N, at {}, where {} stays the "
      "firmer.",
      std::abs(nearest.largest_left_N), mm(nearest.largest_left_at_m),
      nearest.largest_left_N > 0.0 ? names.a : names.b));
  if (!nearest.cause.empty()) {
    sentences.back() += fmt::format(" The {} does most for it.", nearest.cause);
  }
  std::string promised;
  for (const Span& third : nearest.promised) {
    promised += fmt::format("{}{:+.1f} N +- {:.1f} N", promised.empty() ? "" : ", ",
                            third.mean_difference_N, third.standard_uncertainty_N);
  }
  if (!promised.empty()) {
    sentences.push_back(fmt::format(
        "A sweep of each will then show the midline of {} less that of {} in thirds of the travel "
        "as {}.",
        names.a, names.b, promised));
  }
  if (nearest.at_pressure_limit) {
    sentences.push_back(fmt::format("The search ended at the pressure limit of {}.", names.b));
  }
  return sentences;
}

std::vector<std::string> compare_sentences(const Comparison& comparison) {
  const Names names = names_of(comparison);
  std::vector<std::string> out;
  out.push_back(judge_fairness(names, comparison).sentence);
  append(out, span_sentences(names, comparison.spans));
  append(out, crossover_sentences(names, comparison.crossings));
  const bool tested = comparison.a_is_record && comparison.b_is_record;
  if (comparison.by_share) {
    append(out, share_sentences(names, *comparison.by_share, tested ? "As tested" : "As set"));
  }
  if (comparison.contributions) {
    append(out, why_sentences(names, comparison.thirds, *comparison.contributions));
  }
  append(out, sag_sentences(names, comparison));
  if (comparison.matched_by_share) {
    append(out, share_sentences(names, *comparison.matched_by_share, "At matched sag"));
  }
  if (comparison.nearest) append(out, nearest_sentences(names, *comparison.nearest));
  return out;
}

}  // namespace fitting
