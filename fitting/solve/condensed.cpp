#include "fitting/solve/condensed.hpp"

#include <Eigen/Eigenvalues>
#include <cmath>

#include "fitting/solve/parallel.hpp"

namespace fitting {
namespace {

constexpr double kBelowRounding = 1e-15;  // of the largest eigenvalue

struct NormalEquations {
  Eigen::MatrixXd square;    // J^T J
  Eigen::VectorXd gradient;  // J^T r
  double sum = 0.0;          // |r|^2
  bool exists = false;
};

NormalEquations normal_equations(const Evidence& part, const Eigen::VectorXd& values,
                                 bool derivatives) {
  NormalEquations out;
  Eigen::VectorXd residuals(part.rows());
  RowMatrix jacobian;
  out.exists = part.evaluate(values, residuals, derivatives ? &jacobian : nullptr);
  if (!out.exists) return out;
  out.sum = residuals.squaredNorm();
  out.exists = std::isfinite(out.sum);
  if (!derivatives) return out;
  out.square.setZero(jacobian.cols(), jacobian.cols());
  out.square.selfadjointView<Eigen::Lower>().rankUpdate(jacobian.transpose());
  out.gradient = jacobian.transpose() * residuals;
  return out;
}

}  // namespace

CondensedEvidence::CondensedEvidence(std::vector<const Evidence*> parts, int parameters,
                                     int threads)
    : parts_(std::move(parts)), parameters_(parameters), threads_(threads) {}

bool CondensedEvidence::evaluate(const Eigen::VectorXd& values,
                                 Eigen::Ref<Eigen::VectorXd> residuals, RowMatrix* jacobian) const {
  const bool derivatives = jacobian != nullptr;
  std::vector<NormalEquations> each(parts_.size());
  for_each_parallel(static_cast<int>(parts_.size()), threads_, [&](int i) {
    const auto at = static_cast<std::size_t>(i);
    each[at] = normal_equations(*parts_[at], values, derivatives);
  });
  double sum = 0.0;
  for (const NormalEquations& part : each) {
    if (!part.exists) return false;
    sum += part.sum;
  }
  residuals.setZero();
  residuals(parameters_) = std::sqrt(sum);
  if (!derivatives) return true;

  Eigen::MatrixXd square = Eigen::MatrixXd::Zero(parameters_, parameters_);
  Eigen::VectorXd gradient = Eigen::VectorXd::Zero(parameters_);
  for (const NormalEquations& part : each) {
    square += part.square;
    gradient += part.gradient;
  }
  square.triangularView<Eigen::StrictlyUpper>() = square.transpose();
  Eigen::VectorXd length = square.diagonal().cwiseMax(0.0).cwiseSqrt();
  length = (length.array() > 0.0).select(length, 1.0);
  const Eigen::VectorXd shorter = length.cwiseInverse();
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(shorter.asDiagonal() * square *
                                                             shorter.asDiagonal());
  const double least = kBelowRounding * eigen.eigenvalues()(parameters_ - 1);
  const Eigen::VectorXd root = eigen.eigenvalues().cwiseMax(0.0).cwiseSqrt();
  const Eigen::VectorXd turned = eigen.eigenvectors().transpose() * shorter.cwiseProduct(gradient);
  jacobian->setZero(rows(), parameters_);
  double told = 0.0;
  for (int i = 0; i < parameters_; ++i) {
    if (!(eigen.eigenvalues()(i) > least)) continue;
    jacobian->row(i) = root(i) * eigen.eigenvectors().col(i).transpose() * length.asDiagonal();
    residuals(i) = turned(i) / root(i);
    told += residuals(i) * residuals(i);
  }
  residuals(parameters_) = std::sqrt(std::max(0.0, sum - told));
  return jacobian->allFinite();
}

}  // namespace fitting
