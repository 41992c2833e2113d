// Two forks of different travel in shares of each fork's own: what one does at half of its travel
// against what the other does at half of its own.
#pragma once

#include <optional>
#include <vector>

#include "fitting/compare/crossovers.hpp"
#include "fitting/compare/difference.hpp"
#include "fitting/compare/spans.hpp"

namespace fitting {

// All travels in it are of A; B's are stretched to it.
struct ComparedByShare {
  double full_travel_m = 0.0;
  Side a;
  Side b;
  Difference difference;
  Crossings crossings;
  std::vector<Span> spans;
  std::vector<Span> thirds;
};

// Empty where the travels are alike to a millimetre, or no share is covered by both.
std::optional<ComparedByShare> compare_by_share(const Side& a, const Side& b,
                                                const DifferenceOptions& options = {});

}  // namespace fitting
