// The only translation unit that sees Ceres' solver.
#include <ceres/ceres.h>

#include <algorithm>
#include <cmath>
#include <thread>
#include <utility>
#include <vector>

#include "fitting/solve/condensed.hpp"
#include "fitting/solve/problem.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

constexpr double kOnBound = 1e-9;  // solver's units
constexpr int kBoundPasses = 8;
// Rows per parameter above which they are condensed.
constexpr int kManyRows = 40;

class EvidenceCost final : public ceres::CostFunction {
 public:
  EvidenceCost(const Evidence& evidence, int parameters)
      : evidence_(evidence), parameters_(parameters) {
    set_num_residuals(evidence.rows());
    mutable_parameter_block_sizes()->push_back(parameters);
  }

  bool Evaluate(double const* const* blocks, double* residuals, double** jacobians) const override {
    const Eigen::VectorXd values = Eigen::Map<const Eigen::VectorXd>(blocks[0], parameters_);
    const int rows = evidence_.rows();
    Eigen::Map<Eigen::VectorXd> out(residuals, rows);
    const bool derivatives = jacobians != nullptr && jacobians[0] != nullptr;
    RowMatrix jacobian;
    if (derivatives) jacobian.setZero(rows, parameters_);
    if (!evidence_.evaluate(values, out, derivatives ? &jacobian : nullptr)) return false;
    if (derivatives) Eigen::Map<RowMatrix>(jacobians[0], rows, parameters_) = jacobian;
    return out.allFinite() && (!derivatives || jacobian.allFinite());
  }

 private:
  const Evidence& evidence_;
  int parameters_;
};

// The priors as evidence, so that they are evaluated in one place only.
class PriorEvidence final : public Evidence {
 public:
  PriorEvidence(const std::vector<LinearPrior>& priors, int parameters)
      : matrix_(RowMatrix::Zero(static_cast<Eigen::Index>(priors.size()), parameters)),
        target_(static_cast<Eigen::Index>(priors.size())) {
    for (std::size_t i = 0; i < priors.size(); ++i) {
      const auto row = static_cast<Eigen::Index>(i);
      for (const auto& [index, coefficient] : priors[i].terms) {
        matrix_(row, index) += coefficient / priors[i].standard_uncertainty;
      }
      target_(row) = priors[i].target / priors[i].standard_uncertainty;
    }
  }

  int rows() const override { return static_cast<int>(target_.size()); }

  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override {
    residuals = matrix_ * values - target_;
    if (jacobian != nullptr) *jacobian = matrix_;
    return true;
  }

 private:
  RowMatrix matrix_;
  Eigen::VectorXd target_;
};

ceres::Solver::Options ceres_options(const SolveOptions& options) {
  ceres::Solver::Options out;
  out.linear_solver_type = ceres::DENSE_QR;
  out.minimizer_type = ceres::TRUST_REGION;
  out.trust_region_strategy_type = ceres::LEVENBERG_MARQUARDT;
  out.max_num_iterations = options.iterations_max;
  out.function_tolerance = options.relative_cost_change;
  out.parameter_tolerance = options.relative_step;
  out.gradient_tolerance = 1e-14;
  out.logging_type = ceres::SILENT;
  out.max_num_consecutive_invalid_steps = 20;
  return out;
}

int rows_of(const Problem& problem) {
  int out = 0;
  for (const Evidence* evidence : problem.evidence) out += evidence->rows();
  return out;
}

// One descent from the values given, with some parameters held where they are.
ceres::Solver::Summary descend(const Problem& problem, const PriorEvidence& priors,
                               const CondensedEvidence* condensed, const std::vector<int>& held,
                               const SolveOptions& options, Eigen::VectorXd& values) {
  ceres::Problem ceres_problem;
  double* block = values.data();
  if (condensed != nullptr) {
    ceres_problem.AddResidualBlock(new EvidenceCost(*condensed, problem.size()), nullptr, block);
  } else {
    for (const Evidence* evidence : problem.evidence) {
      ceres_problem.AddResidualBlock(new EvidenceCost(*evidence, problem.size()), nullptr, block);
    }
  }
  if (priors.rows() > 0) {
    ceres_problem.AddResidualBlock(new EvidenceCost(priors, problem.size()), nullptr, block);
  }
  if (static_cast<int>(held.size()) == problem.size()) {
    ceres_problem.SetParameterBlockConstant(block);
  } else if (!held.empty()) {
    ceres_problem.SetManifold(block, new ceres::SubsetManifold(problem.size(), held));
  }
  for (int i = 0; i < problem.size(); ++i) {
    const Parameter& parameter = problem.parameters[static_cast<std::size_t>(i)];
    if (std::isfinite(parameter.low)) ceres_problem.SetParameterLowerBound(block, i, parameter.low);
    if (std::isfinite(parameter.high))
      ceres_problem.SetParameterUpperBound(block, i, parameter.high);
  }
  ceres::Solver::Summary summary;
  ceres::Solve(ceres_options(options), &ceres_problem, &summary);
  return summary;
}

// Parameters at a bound that the cost would push through it.
std::vector<int> pressed_on_bounds(const Problem& problem, const Eigen::VectorXd& values) {
  const auto on_low = [&](int i) {
    return values(i) - problem.parameters[static_cast<std::size_t>(i)].low <= kOnBound;
  };
  const auto on_high = [&](int i) {
    return problem.parameters[static_cast<std::size_t>(i)].high - values(i) <= kOnBound;
  };
  bool any = false;
  for (int i = 0; i < problem.size(); ++i) any = any || on_low(i) || on_high(i);
  std::vector<int> out;
  if (!any) return out;
  const Eigen::VectorXd gradient = equations_at(problem, values).gradient;
  for (int i = 0; i < problem.size(); ++i) {
    if ((on_low(i) && gradient(i) > 0.0) || (on_high(i) && gradient(i) < 0.0)) out.push_back(i);
  }
  return out;
}

}  // namespace

// A parameter that presses on its bound would spoil every step: the step's promise counts what lies
// behind the bound, so that good steps of the others are refused. It is held there instead, for as
// long as it presses.
Solution solve_from(const Problem& problem, const Eigen::VectorXd& start,
                    const SolveOptions& options) {
  ENSURE(start.size() == problem.size());
  Solution solution;
  solution.values = start;
  const bool many = rows_of(problem) > kManyRows * problem.size();
  const CondensedEvidence condensed(problem.evidence, problem.size(), options.threads);
  if (many ? !condensed.exists_at(start) : !std::isfinite(cost_at(problem, start))) {
    solution.message = "the model does not exist at the start";
    return solution;
  }
  const PriorEvidence priors(problem.priors, problem.size());
  std::vector<int> held;
  for (int pass = 0; pass < kBoundPasses; ++pass) {
    const ceres::Solver::Summary summary =
        descend(problem, priors, many ? &condensed : nullptr, held, options, solution.values);
    solution.converged = summary.termination_type == ceres::CONVERGENCE;
    solution.iterations += static_cast<int>(summary.iterations.size());
    solution.message = summary.message;
    // Where the first look failed there is no cost, and Ceres says less than nothing.
    if (summary.IsSolutionUsable()) solution.cost = summary.final_cost;
    std::vector<int> pressed = pressed_on_bounds(problem, solution.values);
    if (pressed == held) break;
    held = std::move(pressed);
  }
  return solution;
}

Solution solve(const Problem& problem, const SolveOptions& options) {
  Eigen::VectorXd start(problem.size());
  for (int i = 0; i < problem.size(); ++i) {
    start(i) = problem.parameters[static_cast<std::size_t>(i)].start;
  }
  return solve_from(problem, start, options);
}

double cost_at(const Problem& problem, const Eigen::VectorXd& values) {
  double sum = 0.0;
  NormalEquations part;
  for (const Evidence* evidence : problem.evidence) {
    if (!evidence->condense(values, false, part)) return std::numeric_limits<double>::infinity();
    sum += part.sum;
  }
  const PriorEvidence priors(problem.priors, problem.size());
  Eigen::VectorXd residuals(priors.rows());
  priors.evaluate(values, residuals, nullptr);
  return 0.5 * (sum + residuals.squaredNorm());
}

NormalEquations equations_at(const Problem& problem, const Eigen::VectorXd& values) {
  NormalEquations out;
  out.clear(problem.size());
  if (!problem.priors.empty()) out = prior_equations(problem, values);
  NormalEquations part;
  for (const Evidence* evidence : problem.evidence) {
    ENSURE(evidence->condense(values, true, part));
    out.add(part);
  }
  return out;
}

NormalEquations prior_equations(const Problem& problem, const Eigen::VectorXd& values) {
  const PriorEvidence priors(problem.priors, problem.size());
  NormalEquations out;
  priors.condense(values, true, out);
  return out;
}

Linearisation linearise(const Problem& problem, const Eigen::VectorXd& values) {
  const PriorEvidence priors(problem.priors, problem.size());
  Linearisation out;
  for (const Evidence* evidence : problem.evidence) out.evidence_rows += evidence->rows();
  const int rows = out.evidence_rows + priors.rows();
  out.residuals.setZero(rows);
  out.jacobian.setZero(rows, problem.size());
  int first = 0;
  const auto add = [&](const Evidence& evidence) {
    RowMatrix jacobian = RowMatrix::Zero(evidence.rows(), problem.size());
    ENSURE(evidence.evaluate(values, out.residuals.segment(first, evidence.rows()), &jacobian));
    out.jacobian.middleRows(first, evidence.rows()) = jacobian;
    first += evidence.rows();
  };
  for (const Evidence* evidence : problem.evidence) add(*evidence);
  add(priors);
  return out;
}

}  // namespace fitting
