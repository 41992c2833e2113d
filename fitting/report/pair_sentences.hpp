// What a comparison says, in plain sentences: which fork is firmer where, by how much, and where
// the two cross.
#pragma once

#include <string>

#include "fitting/report/comparison_report.hpp"

namespace fitting {

// How the two forks are called and in which units their numbers are said.
struct PairWords {
  std::string a;
  std::string b;
  ReaderUnits units = reader_units();
};
PairWords words_of(const ComparisonInput& input);

// The reader's unit of travel, or percent where each fork's travel counts as a whole.
UnitScale travel_of(const ComparedPair& pair, const ReaderUnits& units);

// The first pair of which models were asked; null where none was.
const ComparedPair* pair_with_models(const ComparisonInput& input);

// "Larch is firmer from 34 to 71 mm, by 12.3 ± 2.1 N on average." or "From 71 to 93 mm no
// difference is resolved."
std::string span_sentence(const Span& span, const PairWords& names, const UnitScale& travel);

// Where the curves cross, or that they do not, or that it cannot be placed.
std::string crossing_sentence(const ComparedPair& pair, const PairWords& names);

// The one stretch that matters most: the firmer span of the largest mean difference times length.
// Null where no difference is resolved.
const Span* leading_span(const ComparedPair& pair);

// Whether both rest at one sag, within what can be set.
bool same_sag(const ComparedPair& pair);

// Sag of both under the pair's load, with the settings. Empty without a load.
std::string sag_sentence(const ComparedPair& pair, const PairWords& names);

// Which element makes most of the slow springs' difference in the middle of the leading span. Empty
// where there is none, or no model to ask.
std::string reason_sentence(const ComparedPair& pair, const PairWords& names);

// Linear between neighbours, ends held. REQUIRES: ascending, not empty, of equal length.
double value_at(const std::vector<double>& travel_m, const std::vector<double>& values,
                double at_m);

}  // namespace fitting
