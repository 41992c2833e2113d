// What a comparison says, in plain sentences: which fork is firmer where, by how much, and where
// the two cross.
#pragma once

#include <string>

#include "fitting/report/comparison_report.hpp"

namespace fitting {

// Names of the two in sentences.
struct PairNames {
  std::string a;
  std::string b;
};

// The first pair of which models were asked; null where none was.
const ComparedPair* pair_with_models(const ComparisonInput& input);

// "Larch is firmer from 34 to 71 mm, by 12.3 ± 2.1 N on average." or "From 71 to 93 mm no
// difference is resolved."
std::string span_sentence(const Span& span, const PairNames& names);

// Where the curves cross, or that they do not, or that it cannot be placed.
std::string crossing_sentence(const ComparedPair& pair, const PairNames& names);

// The one stretch that matters most: the firmer span of the largest mean difference times length.
// Null where no difference is resolved.
const Span* leading_span(const ComparedPair& pair);

// Sag of both under the pair's load, with the settings. Empty without a load.
std::string sag_sentence(const ComparedPair& pair, const PairNames& names);

// Which element makes most of the slow springs' difference in the middle of the leading span. Empty
// where there is none, or no model to ask.
std::string reason_sentence(const ComparedPair& pair, const PairNames& names);

// Linear between neighbours, ends held. REQUIRES: ascending, not empty, of equal length.
double value_at(const std::vector<double>& travel_m, const std::vector<double>& values,
                double at_m);

}  // namespace fitting
