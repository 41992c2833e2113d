// What the data determine of a parameter, what they do not, and why, in words.
#pragma once

#include "fitting/solve/law_run.hpp"

namespace fitting {

// Elements that others hardly depend on: where the data do not tell them, the assumption stands.
bool is_secondary(LawIndex index);
bool is_friction(LawIndex index);

// Sets status and reason of the parameter at a position of the map, from its value and
// uncertainties. statistical: covariance in solver's units.
void decide_status(const FitInput& input, const LawRun& run, const Eigen::MatrixXd& statistical,
                   int position, FittedParameter& out);

}  // namespace fitting
