// Where a record and the model disagree, and in which way: a wrong model or a bench that changed
// must not hide behind good averages.
//
// Two questions are asked of the residual along travel. Do the strokes of one direction of one
// sweep agree with each other? If not, the bench or the fork changed meanwhile, whatever the model.
// And where does what they have in common leave the model? For that the fit is repeated with cells
// that lie far off weighed down, so that what is sound rules and what is not stands out in its own
// place instead of bending everything.
#pragma once

#include "fitting/solve/law_run.hpp"

namespace fitting {

// Disagreement that is taken for a fact, as shares of the largest force: between strokes, which
// repeat within a tenth of this on a sound bench, and from the model, whose own error is a third of
// it.
inline constexpr double kMisfitOfStrokes = 0.0015;
inline constexpr double kMisfitOfModel = 0.0035;

// Largest first. REQUIRES: a run whose solution exists.
std::vector<Misfit> find_misfits(const FitInput& input, const LawRun& run);

}  // namespace fitting
