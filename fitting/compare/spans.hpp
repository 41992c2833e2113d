// Stretches of travel where one fork is firmer than the other, or where that cannot be told.
#pragma once

#include <string>
#include <vector>

#include "fitting/compare/difference.hpp"

namespace fitting {

enum class Firmer { a, b, neither };
const char* firmer_name(Firmer firmer);  // "a", "b", "neither"

struct Span {
  double from_m = 0.0;
  double to_m = 0.0;
  Firmer firmer = Firmer::neither;
  double mean_difference_N = 0.0;  // A - B
  double standard_uncertainty_N = 0.0;
};

// Firmer only where the difference leaves the simultaneous 95 % band. The spans join without gaps
// and fill the compared travel.
std::vector<Span> find_spans(const Difference& difference);

// The compared travel in three equal parts, each judged by its mean so that all three verdicts hold
// together at 95 %.
std::vector<Span> find_thirds(const Difference& difference);

}  // namespace fitting
