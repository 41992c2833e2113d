// One look at every sample at the end of a reduced fit: how far the optimum of all of them lies
// from the one that the reduction gave.
#pragma once

#include "fitting/solve/problem.hpp"
#include "fitting/solve/reduction/reduced_evidence.hpp"

namespace fitting {

// All samples of one stroke, not owned.
struct StrokeRows {
  int direction = +1;
  double from_m = 0.0;
  const double* travel_m = nullptr;
  const double* force_N = nullptr;
  std::size_t rows = 0;
};

struct Certificate {
  std::size_t samples = 0;
  double rms_N = 0.0;
  // Newton's step from the reduced optimum to that of all samples, in standard deviations of the
  // parameter that it moves most.
  double largest_step = 0.0;
};

// strokes[s]: of sweep s, as they came to its reduction. The evidence's reductions may be merged.
// Priors are those of the problem. REQUIRES: the model exists at the values.
Certificate certify(const std::vector<const ReducedEvidence*>& sweeps,
                    const std::vector<std::vector<StrokeRows>>& strokes, const Problem& problem,
                    const Eigen::VectorXd& values, int threads);

}  // namespace fitting
