// Where the midlines of two forks cross, with a standard uncertainty along travel.
//
// The uncertainty is that of the difference over its slope: curves that part slowly cross anywhere.
// Sign changes that lie within each other's doubt are one crossing seen through noise; an even
// number of them is none. What is left is placed by a straight line through its neighbourhood.
#pragma once

#include <vector>

#include "fitting/compare/difference.hpp"

namespace fitting {

struct Crossover {
  double travel_m = 0.0;
  double standard_uncertainty_m = 0.0;
  bool a_firmer_behind = false;  // A lies above B at larger travel
};

struct Crossings {
  std::vector<Crossover> crossovers;  // by travel
  // Sign changes whose place is in doubt by more than a tenth of the compared travel, or that take
  // each other back within their doubt: the curves run alongside each other there and no crossing
  // can be placed.
  int unplaced = 0;
};

Crossings find_crossovers(const Difference& difference);

}  // namespace fitting
