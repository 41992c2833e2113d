// A least-squares problem and its answer, in the solver's own dimensionless parameters.
#pragma once

#include <Eigen/Core>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "fitting/solve/evidence.hpp"

namespace fitting {

struct Parameter {
  std::string name;
  double start = 0.0;
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
};

// One row of knowledge that is not data: sum of coefficient * value = target +/- standard
// uncertainty.
struct LinearPrior {
  std::vector<std::pair<int, double>> terms;  // parameter, coefficient
  double target = 0.0;
  double standard_uncertainty = 1.0;
};

struct Problem {
  std::vector<Parameter> parameters;
  std::vector<LinearPrior> priors;
  std::vector<const Evidence*> evidence;  // must outlive the problem

  int size() const { return static_cast<int>(parameters.size()); }
};

struct SolveOptions {
  int iterations_max = 100;
  double relative_cost_change = 1e-12;
  double relative_step = 1e-10;
  int threads = 1;
};

struct Solution {
  Eigen::VectorXd values;
  double cost =
      std::numeric_limits<double>::infinity();  // half the sum of squares, priors included
  bool converged = false;
  int iterations = 0;
  std::string message;
};

// All rows at one point, evidence first, then priors.
struct Linearisation {
  Eigen::VectorXd residuals;  // R x 1
  RowMatrix jacobian;         // R x P
  int evidence_rows = 0;
};

// Levenberg-Marquardt by Ceres, from the problem's start or from the values given. A failure is an
// outcome with its reason in message, never a number to trust.
Solution solve(const Problem& problem, const SolveOptions& options = {});
Solution solve_from(const Problem& problem, const Eigen::VectorXd& start,
                    const SolveOptions& options = {});

// Half the sum of squares at one point; infinity where the model does not exist.
double cost_at(const Problem& problem, const Eigen::VectorXd& values);

// Of all rows. REQUIRES: a point where the model exists.
NormalEquations equations_at(const Problem& problem, const Eigen::VectorXd& values);

// Of the priors alone.
NormalEquations prior_equations(const Problem& problem, const Eigen::VectorXd& values);

// REQUIRES: a point where the model exists.
Linearisation linearise(const Problem& problem, const Eigen::VectorXd& values);

}  // namespace fitting
