// A comparison in plain sentences, each made from its numbers.
#pragma once

#include <string>
#include <vector>

#include "fitting/compare/comparison.hpp"

namespace fitting {

struct Names {
  std::string a;
  std::string b;
};

// How the two are called in sentences: by their forks if those differ, else by what the user called
// them.
Names names_of(const Comparison& comparison);

// "Larch is firmer from 12 mm to 88 mm, by 23 N +- 4 N on average." One per resolved span, then one
// for what is not resolved.
std::vector<std::string> span_sentences(const Names& names, const std::vector<Span>& spans);

// "They cross at 61.2 mm +- 1.5 mm: below it Larch is the firmer, above it Basalt."
std::vector<std::string> crossover_sentences(const Names& names, const Crossings& crossings);

// Of forks of different travel, in percent of each one's own. `when`: "As set", "At matched sag".
std::vector<std::string> share_sentences(const Names& names, const ComparedByShare& compared,
                                         const std::string& when);

std::vector<std::string> sag_sentences(const Names& names, const Comparison& comparison);
std::vector<std::string> nearest_sentences(const Names& names, const NearestSetting& nearest);

// What makes most of the difference in a third of the travel, as means over it; the largest first.
struct PartMean {
  std::string name;
  double mean_N = 0.0;
};
struct ThirdExplained {
  double from_m = 0.0;
  double to_m = 0.0;
  double total_N = 0.0;
  std::vector<PartMean> largest;
};
// A third in which no part is worth naming is left out.
std::vector<ThirdExplained> explain_thirds(const std::vector<Span>& thirds,
                                           const Contributions& all);

// "From 8 to 50 mm the compression stroke of Larch is 12.3 N above that of Basalt; most of it:
// positive chamber +30.1 N, negative chamber -15.0 N." One for each third.
std::vector<std::string> why_sentences(const Names& names, const std::vector<Span>& thirds,
                                       const Contributions& all);

// All of it, in the order a reader wants: first whether it is fair.
std::vector<std::string> compare_sentences(const Comparison& comparison);

}  // namespace fitting
