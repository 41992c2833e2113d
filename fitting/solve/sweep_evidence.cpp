#include "fitting/solve/sweep_evidence.hpp"

#include <cmath>

namespace fitting {
namespace {

using LawJet = ceres::Jet<double, static_cast<int>(kLawSize)>;

}  // namespace

SweepEvidence::SweepEvidence(const Path& path, SweepModel model, const ParameterMap& map, int sweep)
    : path_(path), model_(model), map_(map), sweep_(sweep) {
  for (std::size_t i = 0; i < path.nodes.size(); ++i) {
    if (path.nodes[i].rows > 0 && path.nodes[i].counts) counted_.push_back(i);
  }
  set_sample_variance(path.noise_N * path.noise_N);
}

void SweepEvidence::set_sample_variance(double variance_N2) {
  weight_.resize(rows());
  for (int i = 0; i < rows(); ++i) weight_(i) = std::sqrt(node(i).rows / variance_N2);
}

bool SweepEvidence::simulate(const Eigen::VectorXd& values, Eigen::VectorXd& force_N,
                             RowMatrix* gradient) const {
  const LawParameters<double> law = map_.law(values, sweep_);
  force_N.resize(rows());
  if (gradient == nullptr) {
    const std::vector<double> force = follow(model_, law, path_);
    if (force.empty()) return false;
    for (int i = 0; i < rows(); ++i) force_N(i) = force[counted_[static_cast<std::size_t>(i)]];
    return force_N.allFinite();
  }
  LawParameters<LawJet> jets;
  for (std::size_t i = 0; i < kLawSize; ++i) jets[i] = LawJet(law[i], static_cast<int>(i));
  const std::vector<LawJet> force = follow(model_, jets, path_);
  if (force.empty()) return false;
  gradient->resize(rows(), static_cast<Eigen::Index>(kLawSize));
  for (int i = 0; i < rows(); ++i) {
    const LawJet& jet = force[counted_[static_cast<std::size_t>(i)]];
    force_N(i) = jet.a;
    gradient->row(i) = jet.v.transpose();
  }
  return force_N.allFinite() && gradient->allFinite();
}

bool SweepEvidence::evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                             RowMatrix* jacobian) const {
  Eigen::VectorXd force_N;
  RowMatrix gradient;
  if (!simulate(values, force_N, jacobian == nullptr ? nullptr : &gradient)) return false;
  for (int i = 0; i < rows(); ++i) residuals(i) = weight_(i) * (force_N(i) - node(i).force_N);
  if (jacobian == nullptr) return true;
  jacobian->setZero(rows(), map_.size());
  const Eigen::VectorXd slopes = map_.slopes(values);
  for (int j = 0; j < map_.shared_size(); ++j) {
    const auto column = static_cast<Eigen::Index>(map_.free[static_cast<std::size_t>(j)].index);
    jacobian->col(j) = weight_.cwiseProduct(gradient.col(column)) * slopes(j);
  }
  if (map_.fill_errors) {
    jacobian->col(map_.fill_position(sweep_)) =
        weight_.cwiseProduct(gradient.col(kFillError)) * map_.fill_unit_Pa;
  }
  return true;
}

}  // namespace fitting
