// One form of the law carried through: many starts, then a second solve with the samples
// weighted by what they really tell.
#pragma once

#include <cmath>
#include <memory>
#include <vector>

#include "fitting/solve/fork_fit.hpp"
#include "fitting/solve/fork_parameters.hpp"
#include "fitting/solve/multistart.hpp"

namespace fitting {

struct LawRun {
  LawForm form = GasLaw::wall_coefficient;
  ParameterMap map;
  std::vector<std::unique_ptr<SweepEvidence>> sweeps;
  Problem problem;
  Solution solution;
  std::vector<Solution> other_minima;  // distinct ones, solved with the same weights
  ResidualStructure structure;
  std::vector<int> at_bound;  // positions of parameters held there
  int started = 0;

  // Whether any start gave the chambers a volume over the whole travel.
  bool exists() const { return std::isfinite(solution.cost); }
  std::vector<const SweepEvidence*> sweep_list() const;
  // Simulated minus measured, by sweep.
  std::vector<Eigen::VectorXd> residuals_N(const Eigen::VectorXd& values) const;
};

// The input must outlive the run. What another form found is one more start.
std::unique_ptr<LawRun> run_law(const FitInput& input, const LawForm& form,
                                const FitOptions& options, const LawRun* found = nullptr);

}  // namespace fitting
