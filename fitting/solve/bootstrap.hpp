// The spread of the parameters when whole strokes are drawn anew: a check of the covariance that
// takes no model of the noise.
//
// Residuals within a stroke resemble each other, so that single samples drawn anew would only
// repeat the covariance. Strokes are the honest unit, and with few of them there is nothing to
// draw.
#pragma once

#include <cstdint>

#include "fitting/model/fitted_model.hpp"
#include "fitting/solve/problem.hpp"

namespace fitting {

inline constexpr int kFewestStrokes = 8;

struct Bootstrap {
  int replicates = 0;
  int strokes = 0;
  int failed = 0;              // replicates that came to no end
  std::string refused;         // why there are none; empty: there are
  Eigen::MatrixXd covariance;  // P x P, solver's units
};

struct BootstrapOptions {
  int replicates = 1000;
  int threads = 2;
  std::uint64_t seed = 20260101;
};

// Each replicate starts from the solution, its strokes weighed by how often they were drawn. The
// outcome does not depend on the number of threads.
Bootstrap bootstrap(const Problem& problem, const Eigen::VectorXd& solution,
                    const BootstrapOptions& options);

}  // namespace fitting
