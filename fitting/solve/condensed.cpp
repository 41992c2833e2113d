#include "fitting/solve/condensed.hpp"

#include <Eigen/Eigenvalues>
#include <cmath>

#include "fitting/solve/parallel.hpp"

namespace fitting {
namespace {

constexpr double kBelowRounding = 1e-15;  // of the largest eigenvalue

}  // namespace

bool Evidence::condense(const Eigen::VectorXd& values, bool derivatives,
                        NormalEquations& out) const {
  Eigen::VectorXd residuals(rows());
  RowMatrix jacobian;
  if (!evaluate(values, residuals, derivatives ? &jacobian : nullptr)) return false;
  out.sum = residuals.squaredNorm();
  if (!derivatives) return std::isfinite(out.sum);
  out.square.setZero(jacobian.cols(), jacobian.cols());
  out.square.selfadjointView<Eigen::Lower>().rankUpdate(jacobian.transpose());
  out.gradient = jacobian.transpose() * residuals;
  return std::isfinite(out.sum);
}

CondensedEvidence::CondensedEvidence(std::vector<const Evidence*> parts, int parameters,
                                     int threads)
    : parts_(std::move(parts)), parameters_(parameters), threads_(threads) {}

bool CondensedEvidence::evaluate(const Eigen::VectorXd& values,
                                 Eigen::Ref<Eigen::VectorXd> residuals, RowMatrix* jacobian) const {
  const bool derivatives = jacobian != nullptr;
  std::vector<NormalEquations> each(parts_.size());
  std::vector<char> exists(parts_.size());
  for_each_parallel(static_cast<int>(parts_.size()), threads_, [&](int i) {
    const auto at = static_cast<std::size_t>(i);
    exists[at] = parts_[at]->condense(values, derivatives, each[at]);
  });
  for (char part : exists) {
    if (!part) return false;
  }
  NormalEquations all;
  all.clear(parameters_);
  for (const NormalEquations& part : each) {
    if (derivatives) all.add(part);
    if (!derivatives) all.sum += part.sum;
  }
  residuals.setZero();
  residuals(parameters_) = std::sqrt(all.sum);
  if (!derivatives) return true;

  Eigen::MatrixXd& square = all.square;
  square.triangularView<Eigen::StrictlyUpper>() = square.transpose();
  Eigen::VectorXd length = square.diagonal().cwiseMax(0.0).cwiseSqrt();
  length = (length.array() > 0.0).select(length, 1.0);
  const Eigen::VectorXd shorter = length.cwiseInverse();
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(shorter.asDiagonal() * square *
                                                             shorter.asDiagonal());
  const double least = kBelowRounding * eigen.eigenvalues()(parameters_ - 1);
  const Eigen::VectorXd root = eigen.eigenvalues().cwiseMax(0.0).cwiseSqrt();
  const Eigen::VectorXd turned =
      eigen.eigenvectors().transpose() * shorter.cwiseProduct(all.gradient);
  jacobian->setZero(rows(), parameters_);
  double told = 0.0;
  for (int i = 0; i < parameters_; ++i) {
    if (!(eigen.eigenvalues()(i) > least)) continue;
    jacobian->row(i) = root(i) * eigen.eigenvectors().col(i).transpose() * length.asDiagonal();
    residuals(i) = turned(i) / root(i);
    told += residuals(i) * residuals(i);
  }
  residuals(parameters_) = std::sqrt(std::max(0.0, all.sum - told));
  return jacobian->allFinite();
}

}  // namespace fitting
