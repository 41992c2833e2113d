#include "fitting/compare/fairness.hpp"

#include <fmt/format.h>

#include <cmath>

#include "protocol/units.hpp"

namespace fitting {
namespace {

constexpr double kFinestShare = 0.005;
constexpr double kWidestShare = 0.02;  // of a doubt that still tells one sag from another

std::string resting_text(const std::string& name, const Sag& sag, double travel_m) {
  std::string out = fmt::format("{} {:.1f} mm ({:.1f} % of its travel", name, 1e3 * sag.travel_m,
                                100.0 * sag.travel_m / travel_m);
  if (sag.least_m && sag.most_m) {
    out += fmt::format("; friction lets it rest from {:.0f} to {:.0f} mm", 1e3 * *sag.least_m,
                       1e3 * *sag.most_m);
  }
  return out + ")";
}

// Ready to pump: whole psi.
std::string setting_text(const MatchedFork& fork) {
  if (fork.added_preload_N) return preload_words(*fork.added_preload_N);
  return fmt::format("{:.0f} psi", protocol::in_unit(fork.pressure_gauge_Pa, "psi"));
}

double share_doubt(const Sag& sag, double travel_m) {
  return sag.standard_uncertainty_m.value_or(0.0) / travel_m;
}

}  // namespace

Fairness judge_fairness(const Names& names, const Comparison& comparison) {
  const MatchedSag& matched = comparison.matched_sag;
  const std::optional<Sag>& a = matched.as_tested_a.sag;
  const std::optional<Sag>& b = matched.as_tested_b.sag;
  Fairness out;
  if (!a || !b) {
    out.sentence = fmt::format(
        "Under {:.0f} N along the fork {} does not come to rest within the travel known, so the "
        "settings cannot be called fair.",
        matched.load_N, a ? names.b : names.a);
    return out;
  }
  const double travel_a_m = comparison.a.fork_travel_m;
  const double travel_b_m = comparison.b.fork_travel_m;
  const double apart = a->travel_m / travel_a_m - b->travel_m / travel_b_m;
  const double doubt = std::hypot(share_doubt(*a, travel_a_m), share_doubt(*b, travel_b_m));
  out.known = true;
  const bool same = std::abs(apart) <= std::max(2.0 * doubt, kFinestShare);
  const bool told = 2.0 * doubt <= kWidestShare || !same;
  out.comparable = same && told;
  out.sentence = fmt::format("Under {:.0f} N along the fork {} and {}: ", matched.load_N,
                             resting_text(names.a + " rests at", *a, travel_a_m),
                             resting_text(names.b + " at", *b, travel_b_m));
  if (!told) {
    out.sentence += fmt::format(
        "the sags agree, but within {:.1f} % of the travel, which is too much to call the settings "
        "fair.",
        200.0 * doubt);
    return out;
  }
  if (out.comparable) {
    out.sentence += "the same sag, so the settings may be compared.";
    return out;
  }
  out.sentence += "not the same sag, so part of the difference is the setting and not the fork.";
  if (matched.a && matched.b) {
    out.sentence +=
        fmt::format(" For the same sag: {} for {} and {} for {}.", setting_text(*matched.a),
                    names.a, setting_text(*matched.b), names.b);
  }
  return out;
}

}  // namespace fitting
