#include "tests/published/nist_nonlinear_run.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace nist {
namespace {

// Of the longest column of the Jacobian: what is shorter does not act.
constexpr double kActs = 1e-9;
// Smallest singular value of the Jacobian with columns of length one. The worst set that has an
// answer in double precision lies at 1e-7.
constexpr double kRank = 1e-11;

}  // namespace

bool SetEvidence::evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                           fitting::RowMatrix* jacobian) const {
  Jet b[kParameters_max];
  for (std::size_t i = 0; i < unit_.size(); ++i) {
    b[i] = unit_[i] * Jet(values(static_cast<Eigen::Index>(i)), static_cast<int>(i));
  }
  const bool logarithm = takes_logarithm(set_.name);
  for (int row = 0; row < rows(); ++row) {
    const auto at = static_cast<std::size_t>(row);
    const Jet y = model_(b, set_.x[at], set_.x2.empty() ? 0.0 : set_.x2[at]);
    residuals(row) = y.a - (logarithm ? std::log(set_.y[at]) : set_.y[at]);
    if (jacobian != nullptr) jacobian->row(row) = y.v.head(jacobian->cols()).transpose();
  }
  return true;
}

fitting::Problem make_problem(const fitting::Evidence& evidence, std::size_t parameters) {
  fitting::Problem problem;
  for (std::size_t i = 0; i < parameters; ++i) {
    problem.parameters.push_back({"b" + std::to_string(i + 1)});
    problem.parameters.back().start = 1.0;
  }
  problem.evidence = {&evidence};
  return problem;
}

fitting::SolveOptions patient() {
  fitting::SolveOptions options;
  options.iterations_max = 3000;
  options.relative_cost_change = 1e-15;
  options.relative_step = 1e-13;
  return options;
}

double digits(double found, double certified) {
  if (!std::isfinite(found)) return 0.0;
  const double relative = std::abs(found - certified) / std::abs(certified);
  return std::clamp(-std::log10(std::max(relative, 1e-11)), 0.0, 11.0);
}

Outcome judge(const Set& set, const std::vector<double>& unit, const fitting::Problem& problem,
              const fitting::Solution& solution) {
  Outcome out;
  out.converged = solution.converged;
  out.sum_of_squares = 2.0 * solution.cost;
  out.sum_digits = digits(out.sum_of_squares, set.residual_sum_of_squares);
  const fitting::Linearisation at = fitting::linearise(problem, solution.values);
  const auto size = static_cast<Eigen::Index>(unit.size());
  const Eigen::VectorXd length = at.jacobian.colwise().norm().transpose();
  out.determined = at.jacobian.allFinite() && length.minCoeff() > kActs * length.maxCoeff();
  if (out.determined) {
    const Eigen::MatrixXd scaled = at.jacobian * length.cwiseInverse().asDiagonal();
    const Eigen::JacobiSVD<Eigen::MatrixXd> svd(scaled);
    out.determined = svd.singularValues()(size - 1) > kRank;
  }
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(at.jacobian);
  const Eigen::MatrixXd triangle = qr.matrixQR().topRows(size).triangularView<Eigen::Upper>();
  const Eigen::MatrixXd inverse =
      triangle.triangularView<Eigen::Upper>().solve(Eigen::MatrixXd::Identity(size, size));
  const double scatter = std::sqrt(out.sum_of_squares / double(set.y.size() - unit.size()));
  out.parameter_digits = out.deviation_digits = 11.0;
  for (std::size_t i = 0; i < unit.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    const double deviation = std::abs(unit[i]) * scatter * inverse.row(row).norm();
    out.parameter_digits =
        std::min(out.parameter_digits, digits(unit[i] * solution.values(row), set.certified[i]));
    out.deviation_digits =
        std::min(out.deviation_digits, digits(deviation, set.standard_deviation[i]));
  }
  return out;
}

Outcome solve_set(const Set& set, const std::vector<double>& start) {
  const SetEvidence evidence(set, start);
  const fitting::Problem problem = make_problem(evidence, start.size());
  return judge(set, start, problem, fitting::solve(problem, patient()));
}

}  // namespace nist
