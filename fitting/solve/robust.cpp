#include "fitting/solve/robust.hpp"

namespace fitting {
namespace {

// From wide to narrow: at once narrow, it would keep the neighbourhood of the bent fit.
constexpr double kScales[] = {8.0, 4.0, 2.0, 1.0, 1.0, 1.0};

// Another evidence with its rows weighed anew.
class Reweighed final : public Evidence {
 public:
  explicit Reweighed(const SweepEvidence& inner)
      : inner_(inner), factor_(Eigen::VectorXd::Ones(inner.rows())) {}

  int rows() const override { return inner_.rows(); }
  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override {
    if (!inner_.evaluate(values, residuals, jacobian)) return false;
    residuals = residuals.cwiseProduct(factor_);
    if (jacobian != nullptr) *jacobian = factor_.asDiagonal() * *jacobian;
    return true;
  }

  void weigh(const Eigen::VectorXd& residual_N, double scale_N) {
    factor_ = (1.0 + (residual_N / scale_N).array().square()).sqrt().inverse();
  }

 private:
  const SweepEvidence& inner_;
  Eigen::VectorXd factor_;
};

}  // namespace

Eigen::VectorXd solve_robustly(const LawRun& run, double scale_N) {
  std::vector<Reweighed> sweeps;
  sweeps.reserve(run.sweeps.size());
  Problem problem = run.problem;
  problem.evidence.clear();
  for (const auto& sweep : run.sweeps) {
    sweeps.emplace_back(*sweep);
    problem.evidence.push_back(&sweeps.back());
  }
  SolveOptions options;
  options.iterations_max = 40;
  options.relative_cost_change = 1e-7;
  Eigen::VectorXd values = run.solution.values;
  for (double scale : kScales) {
    const std::vector<Eigen::VectorXd> residuals_N = run.residuals_N(values);
    for (std::size_t s = 0; s < sweeps.size(); ++s) {
      sweeps[s].weigh(residuals_N[s], scale * scale_N);
    }
    const Solution solution = solve_from(problem, values, options);
    if (!std::isfinite(solution.cost)) break;
    values = solution.values;
  }
  return values;
}

}  // namespace fitting
