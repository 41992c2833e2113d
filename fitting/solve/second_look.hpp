// What a fit is asked besides its covariance: profile likelihoods, and strokes drawn anew.
#pragma once

#include "fitting/solve/law_run.hpp"

namespace fitting {

// Of the parameters that people quote, in their printed units.
void add_profiles(const LawRun& run, int threads, FittedModel& model);

void add_bootstrap(const LawRun& run, const FitOptions& options, FittedModel& model);

}  // namespace fitting
