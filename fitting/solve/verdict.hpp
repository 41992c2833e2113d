// From a solved law to a model that says what it knows: values, uncertainties, what is not
// determined and why, and whether the whole may be used.
#pragma once

#include "fitting/model/fitted_model.hpp"
#include "fitting/solve/law_run.hpp"

namespace fitting {

// Of a solved run, with the bench's doubts and the model's own error.
Uncertainty uncertainty_of(const FitInput& input, const LawRun& run);

// Fills parameters, covariances, residuals, usable and warnings.
void judge(const FitInput& input, const LawRun& run, FittedModel& model);

}  // namespace fitting
