// The table of a fit's parameters, with their covariances: free, given, derived, and of each sweep.
#pragma once

#include "fitting/model/fitted_model.hpp"
#include "fitting/solve/law_run.hpp"

namespace fitting {

// Fills parameters, free, covariances and shared doubts. REQUIRES: law_values and context.
void fill_table(const FitInput& input, const LawRun& run, const Uncertainty& uncertainty,
                FittedModel& model);

// The derived friction at half travel, no spacer, mean fitted pressure: value and gradient by the
// law's parameters, SI.
struct Derived {
  double value = 0.0;
  Eigen::VectorXd gradient;  // kLawSize x 1
};
Derived friction_mid_travel(const FittedModel& model);

}  // namespace fitting
