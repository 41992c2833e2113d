#include "fitting/solve/sweep_evidence.hpp"

#include <ceres/jet.h>

#include <cmath>

#include "fitting/model/gradient_follow.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

using LawJet = ceres::Jet<double, static_cast<int>(kLawSize)>;

}  // namespace

SweepEvidence::SweepEvidence(const Path& path, SweepModel model, const ParameterMap& map, int sweep)
    : path_(path), model_(model), map_(map), sweep_(sweep) {
  for (std::size_t i = 0; i < path.nodes.size(); ++i) {
    if (path.nodes[i].rows > 0 && path.nodes[i].counts) counted_.push_back(i);
  }
  for (const FreeParameter& free : map.free) by_.push_back(free.index);
  if (map.fill_errors) by_.push_back(kFillError);
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
  if (jacobian == nullptr) {
    if (!simulate(values, force_N, nullptr)) return false;
    for (int i = 0; i < rows(); ++i) residuals(i) = weight_(i) * (force_N(i) - node(i).force_N);
    return true;
  }
  RowMatrix gradient;
  if (!follow_with_gradient(model_, map_.law(values, sweep_), path_, by_, force_N, gradient)) {
    return false;
  }
  // One column for each parameter of the list, its slope taken along.
  Eigen::RowVectorXd slopes(gradient.cols());
  slopes.head(map_.shared_size()) = map_.slopes(values).transpose();
  if (map_.fill_errors) slopes(map_.shared_size()) = map_.fill_unit_Pa;
  jacobian->setZero(rows(), map_.size());
  for (int i = 0; i < rows(); ++i) {
    const auto at = static_cast<Eigen::Index>(counted_[static_cast<std::size_t>(i)]);
    residuals(i) = weight_(i) * (force_N(at) - node(i).force_N);
    jacobian->row(i).head(map_.shared_size()) =
        weight_(i) *
        gradient.row(at).head(map_.shared_size()).cwiseProduct(slopes.head(map_.shared_size()));
    if (map_.fill_errors) {
      (*jacobian)(i, map_.fill_position(sweep_)) =
          weight_(i) * gradient(at, map_.shared_size()) * slopes(map_.shared_size());
    }
  }
  return residuals.allFinite() && jacobian->allFinite();
}

bool SweepEvidence::condense_by_stroke(const Eigen::VectorXd& values,
                                       std::vector<NormalEquations>& out) const {
  Eigen::VectorXd residuals(rows());
  RowMatrix jacobian(rows(), map_.size());
  if (!evaluate(values, residuals, &jacobian)) return false;
  out.assign(static_cast<std::size_t>(path_.strokes), {});
  int first = 0;
  for (int stroke = 0; stroke < path_.strokes; ++stroke) {
    int last = first;
    while (last < rows() && node(last).stroke == stroke) ++last;
    NormalEquations& own = out[static_cast<std::size_t>(stroke)];
    own.clear(map_.size());
    const auto part = jacobian.middleRows(first, last - first);
    own.square.selfadjointView<Eigen::Lower>().rankUpdate(part.transpose());
    own.gradient = part.transpose() * residuals.segment(first, last - first);
    own.sum = residuals.segment(first, last - first).squaredNorm();
    first = last;
  }
  return true;
}

void SweepEvidence::foresee(const Eigen::VectorXd& values, Path& path) const {
  ENSURE(&path == &path_);
  Eigen::VectorXd force_N;
  ENSURE(simulate(values, force_N, nullptr));
  for (int i = 0; i < rows(); ++i) {
    path.nodes[counted_[static_cast<std::size_t>(i)]].force_N = force_N(i);
  }
}

}  // namespace fitting
