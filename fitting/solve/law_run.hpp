// One form of the law carried through: many starts, then a second solve with the samples
// weighted by what they really tell.
#pragma once

#include <cmath>
#include <memory>
#include <vector>

#include "fitting/solve/fork_fit.hpp"
#include "fitting/solve/fork_parameters.hpp"
#include "fitting/solve/multistart.hpp"
#include "fitting/solve/reduction/reduced_evidence.hpp"
#include "fitting/solve/sweep_evidence.hpp"

namespace fitting {

struct LawRun {
  LawForm form = GasLaw::wall_coefficient;
  ParameterMap map;
  std::vector<std::unique_ptr<SweepEvidence>> sweeps;  // cells, which show where the model fails
  // Without a clock the sweeps reduced, which are what is solved.
  std::vector<Reduction> reductions;
  std::vector<std::unique_ptr<ReducedEvidence>> reduced;
  Problem problem;
  Solution solution;
  std::vector<Solution> other_minima;  // distinct ones, solved with the same weights
  ResidualStructure structure;
  std::vector<int> at_bound;  // positions of parameters held there
  int started = 0;

  // Whether any start gave the chambers a volume over the whole travel.
  bool exists() const { return std::isfinite(solution.cost); }
  std::vector<const SweepEvidence*> sweep_list() const;
  // The problem with the cells as its evidence.
  Problem by_cells() const;
  // Simulated minus measured, by sweep.
  std::vector<Eigen::VectorXd> residuals_N(const Eigen::VectorXd& values) const;
};

// A run with nothing solved: its parameters, problem and evidence. The input must outlive it.
std::unique_ptr<LawRun> make_run(const FitInput& input, const LawForm& form);

// Gives every sample the variance that makes the structure count as much as it tells.
void weigh(LawRun& run, const ResidualStructure& structure);

// A model with the run that it came from.
struct FittedRun {
  FittedModel model;
  std::unique_ptr<LawRun> run;
};

// Defined with fit_fork. The input must outlive the run.
FittedRun fit_input(const FitInput& input, const FitOptions& options);

// The input must outlive the run. What another form found is one more start.
std::unique_ptr<LawRun> run_law(const FitInput& input, const LawForm& form,
                                const FitOptions& options, const LawRun* found = nullptr);

}  // namespace fitting
