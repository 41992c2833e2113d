#include "fitting/solve/condensed.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <cmath>

#include "fitting/solve/parallel.hpp"

namespace fitting {
namespace {

constexpr double kBelowRounding = 1e-15;  // of the largest eigenvalue
// Least squared pivot for Cholesky's root, columns of length one.
constexpr double kSafelyPositive = 1e-12;

// Rows whose normal equations these are, into the first of the Jacobian. RETURNS: their |r|^2.
double take_root(const Eigen::MatrixXd& square, const Eigen::VectorXd& gradient,
                 Eigen::Ref<Eigen::VectorXd> residuals, RowMatrix& jacobian) {
  const Eigen::Index size = square.rows();
  const Eigen::LLT<Eigen::MatrixXd> cholesky(square);
  if (cholesky.info() == Eigen::Success &&
      cholesky.matrixLLT().diagonal().cwiseAbs2().minCoeff() > kSafelyPositive) {
    jacobian.topRows(size) = cholesky.matrixU();
    residuals = cholesky.matrixL().solve(gradient);
    return residuals.squaredNorm();
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(square);
  const double least = kBelowRounding * eigen.eigenvalues()(size - 1);
  const Eigen::VectorXd turned = eigen.eigenvectors().transpose() * gradient;
  residuals.setZero();
  for (Eigen::Index i = 0; i < size; ++i) {
    if (!(eigen.eigenvalues()(i) > least)) continue;
    const double root = std::sqrt(eigen.eigenvalues()(i));
    jacobian.row(i) = root * eigen.eigenvectors().col(i).transpose();
    residuals(i) = turned(i) / root;
  }
  return residuals.squaredNorm();
}

}  // namespace

bool Evidence::condense(const Eigen::VectorXd& values, bool derivatives,
                        NormalEquations& out) const {
  Eigen::VectorXd residuals(rows());
  RowMatrix jacobian;
  if (derivatives) jacobian.setZero(rows(), values.size());
  if (!evaluate(values, residuals, derivatives ? &jacobian : nullptr)) return false;
  out.sum = residuals.squaredNorm();
  if (!derivatives) return std::isfinite(out.sum);
  out.square.setZero(jacobian.cols(), jacobian.cols());
  out.square.selfadjointView<Eigen::Lower>().rankUpdate(jacobian.transpose());
  out.gradient = jacobian.transpose() * residuals;
  return std::isfinite(out.sum);
}

bool Evidence::condense_by_stroke(const Eigen::VectorXd& values,
                                  std::vector<NormalEquations>& out) const {
  out.resize(1);
  return condense(values, true, out.front());
}

CondensedEvidence::CondensedEvidence(std::vector<const Evidence*> parts, int parameters,
                                     int threads)
    : parts_(std::move(parts)), parameters_(parameters), threads_(threads) {}

bool CondensedEvidence::gather(const Eigen::VectorXd& values) const {
  if (last_values_.size() == values.size() && last_values_ == values) return last_exists_;
  last_values_ = values;
  last_exists_ = false;
  std::vector<NormalEquations> each(parts_.size());
  std::vector<char> exists(parts_.size());
  for_each_parallel(static_cast<int>(parts_.size()), threads_, [&](int i) {
    const auto at = static_cast<std::size_t>(i);
    exists[at] = parts_[at]->condense(values, true, each[at]);
  });
  for (char part : exists) {
    if (!part) return false;
  }
  last_.clear(parameters_);
  for (const NormalEquations& part : each) last_.add(part);
  last_exists_ = true;
  return true;
}

bool CondensedEvidence::evaluate(const Eigen::VectorXd& values,
                                 Eigen::Ref<Eigen::VectorXd> residuals, RowMatrix* jacobian) const {
  if (!gather(values)) return false;
  residuals.setZero();
  residuals(parameters_) = std::sqrt(last_.sum);
  if (jacobian == nullptr) return true;

  const NormalEquations& all = last_;
  Eigen::MatrixXd square = all.square;
  square.triangularView<Eigen::StrictlyUpper>() = square.transpose();
  Eigen::VectorXd length = square.diagonal().cwiseMax(0.0).cwiseSqrt();
  length = (length.array() > 0.0).select(length, 1.0);
  const Eigen::VectorXd shorter = length.cwiseInverse();
  square = (shorter.asDiagonal() * square * shorter.asDiagonal()).eval();
  const Eigen::VectorXd down = shorter.cwiseProduct(all.gradient);
  jacobian->setZero(rows(), parameters_);
  const double told = take_root(square, down, residuals.head(parameters_), *jacobian);
  *jacobian = (*jacobian * length.asDiagonal()).eval();
  residuals(parameters_) = std::sqrt(std::max(0.0, all.sum - told));
  return jacobian->allFinite();
}

}  // namespace fitting
