// What a reader must know of a fit besides its numbers.
#pragma once

#include "fitting/solve/law_run.hpp"

namespace fitting {

// Parameters that left what was stated or assumed of them: a wrong diameter or travel bends them
// rather than the curve.
void warn_of_strain(const FitInput& input, const LawRun& run, FittedModel& model);

// Interrupted records, spikes left out, and what the fork file leaves to assumptions.
void warn_of_assumptions(const FitInput& input, FittedModel& model);

}  // namespace fitting
