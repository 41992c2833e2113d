// The fit repeated with what lies far off weighed down (iteratively reweighted least squares with
// Cauchy's weights [HollandWelsch1977]).
#pragma once

#include "fitting/solve/law_run.hpp"

namespace fitting {

// Values of the robust fit, from the run's solution. scale_N: residual of a cell at which it counts
// half. Where a pass fails, the values of the last that did not.
Eigen::VectorXd solve_robustly(const LawRun& run, double scale_N);

}  // namespace fitting
