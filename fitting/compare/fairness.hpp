// Whether two settings may be compared at all: the same rider must rest at the same sag on both.
#pragma once

#include <string>

#include "fitting/compare/sentences.hpp"

namespace fitting {

struct Fairness {
  bool known = false;  // both come to rest under the load
  bool comparable = false;
  std::string sentence;  // with the bands that friction leaves, and what to pump where they differ
};

// Sags are shares of each fork's own travel. They are the same when they agree within twice their
// uncertainty, or within half a percent of the travel, finer than which nobody sets a sag (common
// practice, no source).
Fairness judge_fairness(const Names& names, const Comparison& comparison);

}  // namespace fitting
