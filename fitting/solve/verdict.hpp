// From a solved law to a model that says what it knows: values, uncertainties, what is not
// determined and why, and whether the whole may be used.
#pragma once

#include "fitting/model/fitted_model.hpp"
#include "fitting/solve/law_run.hpp"

namespace fitting {

// Fills parameters, covariances, residuals, usable and warnings.
void judge(const FitInput& input, const LawRun& run, FittedModel& model);

}  // namespace fitting
