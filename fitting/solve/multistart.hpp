// Many starting points: a single one can end in a false minimum, with one sweep and with the heat
// law.
#pragma once

#include <cstdint>
#include <vector>

#include "fitting/solve/problem.hpp"

namespace fitting {

struct MultistartOptions {
  int candidates = 48;  // tried by their cost alone
  int solved = 10;      // the best of them, carried to a minimum
  int threads = 2;
  std::uint64_t seed = 20260101;
  SolveOptions solve;
};

struct MultistartOutcome {
  Solution best;
  std::vector<Solution> minima;  // all that converged, best first
  int started = 0;
};

// Starts: zero, those given, and draws uniform within +/- spread of zero by parameter.
// The outcome does not depend on the number of threads.
MultistartOutcome solve_many(const Problem& problem, const Eigen::VectorXd& spread,
                             const std::vector<Eigen::VectorXd>& given,
                             const MultistartOptions& options);

}  // namespace fitting
