#include "fitting/solve/sweep_evidence.hpp"

#include <cmath>

#include "fitting/model/gradient_follow.hpp"
#include "protocol/error.hpp"

namespace fitting {

SweepEvidence::SweepEvidence(const Path& path, SweepModel model, const ParameterMap& map, int sweep)
    : path_(path), model_(model), map_(map), sweep_(sweep) {
  for (std::size_t i = 0; i < path.nodes.size(); ++i) {
    if (path.nodes[i].rows > 0 && path.nodes[i].counts) counted_.push_back(i);
  }
  if (has_heat()) track_ = make_heat_track(path, model.start);
  set_sample_variance(path.noise_N * path.noise_N);
}

void SweepEvidence::set_sample_variance(double variance_N2) {
  const auto nodes = static_cast<Eigen::Index>(path_.nodes.size());
  weight_.resize(rows());
  node_weight_.setZero(nodes);
  for (int i = 0; i < rows(); ++i) {
    const auto at = static_cast<Eigen::Index>(counted_[static_cast<std::size_t>(i)]);
    weight_(i) = node_weight_(at) = std::sqrt(node(i).rows / variance_N2);
  }
}

Eigen::VectorXd SweepEvidence::measured_N() const {
  Eigen::VectorXd out(static_cast<Eigen::Index>(path_.nodes.size()));
  for (std::size_t i = 0; i < path_.nodes.size(); ++i) {
    out(static_cast<Eigen::Index>(i)) = path_.nodes[i].force_N;
  }
  return out;
}

bool SweepEvidence::forces(const LawParameters<double>& law, Eigen::VectorXd& node_N) const {
  node_N.resize(static_cast<Eigen::Index>(path_.nodes.size()));
  if (has_heat()) return heat_forces(model_, law, track_, node_N.data());
  Eigen::Index at = 0;
  return follow_each(model_, law, path_, [&](double force_N) { node_N(at++) = force_N; });
}

bool SweepEvidence::forces_and_slopes(const LawParameters<double>& law,
                                      const std::vector<SlopeColumn>& columns,
                                      Eigen::VectorXd& node_N, RowMatrix& slopes) const {
  const auto nodes = static_cast<Eigen::Index>(path_.nodes.size());
  const auto width = static_cast<int>(columns.size());
  node_N.resize(nodes);
  slopes.resize(nodes, width);
  if (has_heat()) return heat_slopes(model_, law, track_, columns, node_N.data(), slopes.data());
  RowMatrix part;
  for (int first = 0; first < width; first += kWidestGradient) {
    std::vector<LawIndex> by;
    for (int i = first; i < std::min(width, first + kWidestGradient); ++i) {
      by.push_back(columns[static_cast<std::size_t>(i)].index);
    }
    if (!follow_with_gradient(model_, law, path_, by, node_N, part)) return false;
    for (Eigen::Index i = 0; i < part.cols(); ++i) {
      slopes.col(first + i) = part.col(i) * columns[static_cast<std::size_t>(first + i)].scale;
    }
  }
  return true;
}

std::vector<SlopeColumn> SweepEvidence::own_columns(const Eigen::VectorXd& values) const {
  const Eigen::VectorXd slopes = map_.slopes(values);
  std::vector<SlopeColumn> out;
  for (int i = 0; i < map_.shared_size(); ++i) {
    out.push_back({map_.free[static_cast<std::size_t>(i)].index, slopes(i)});
  }
  if (map_.fill_errors) out.push_back({kFillError, map_.fill_unit_Pa});
  return out;
}

bool SweepEvidence::simulate(const Eigen::VectorXd& values, Eigen::VectorXd& force_N,
                             RowMatrix* gradient) const {
  const LawParameters<double> law = map_.law(values, sweep_);
  Eigen::VectorXd node_N;
  RowMatrix slopes;
  std::vector<SlopeColumn> all;
  for (std::size_t i = 0; i < kLawSize; ++i) all.push_back({static_cast<LawIndex>(i)});
  if (!(gradient == nullptr ? forces(law, node_N) : forces_and_slopes(law, all, node_N, slopes))) {
    return false;
  }
  force_N = node_N(counted_);
  if (gradient == nullptr) return force_N.allFinite();
  *gradient = slopes(counted_, Eigen::all);
  return force_N.allFinite() && gradient->allFinite();
}

bool SweepEvidence::change_by_moving(const Eigen::VectorXd& values,
                                     const std::function<double(const PathNode&)>& move_m,
                                     double step, Eigen::VectorXd& change_N) const {
  // A node without rows, as a turn is, has no force of its own: the law's stands for it.
  Eigen::VectorXd node_N;
  if (!forces(map_.law(values, sweep_), node_N)) return false;
  Path moved = path_;
  PathNode start = path_.nodes.front();
  start.travel_m = path_.start_m;
  moved.start_m += step * move_m(start);
  for (std::size_t i = 0; i < moved.nodes.size(); ++i) {
    PathNode seen = path_.nodes[i];
    if (seen.rows == 0) seen.force_N = node_N(static_cast<Eigen::Index>(i));
    moved.nodes[i].travel_m += step * move_m(seen);
  }
  SweepEvidence there(moved, model_, map_, sweep_);
  const Eigen::VectorXd here_N = node_N(counted_);
  if (!there.simulate(values, change_N, nullptr)) return false;
  change_N = (change_N - here_N) / step;
  return true;
}

bool SweepEvidence::evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                             RowMatrix* jacobian) const {
  const LawParameters<double> law = map_.law(values, sweep_);
  Eigen::VectorXd node_N;
  RowMatrix slopes;
  if (!(jacobian == nullptr ? forces(law, node_N)
                            : forces_and_slopes(law, own_columns(values), node_N, slopes))) {
    return false;
  }
  for (int i = 0; i < rows(); ++i) {
    const auto at = static_cast<Eigen::Index>(counted_[static_cast<std::size_t>(i)]);
    residuals(i) = weight_(i) * (node_N(at) - node(i).force_N);
  }
  if (jacobian == nullptr) return residuals.allFinite();
  jacobian->setZero(rows(), map_.size());
  const int shared = map_.shared_size();
  for (int i = 0; i < rows(); ++i) {
    const auto at = static_cast<Eigen::Index>(counted_[static_cast<std::size_t>(i)]);
    jacobian->row(i).head(shared) = weight_(i) * slopes.row(at).head(shared);
    if (map_.fill_errors) {
      (*jacobian)(i, map_.fill_position(sweep_)) = weight_(i) * slopes(at, shared);
    }
  }
  return residuals.allFinite() && jacobian->allFinite();
}

bool SweepEvidence::condense(const Eigen::VectorXd& values, bool derivatives,
                             NormalEquations& out) const {
  const std::vector<SlopeColumn> columns = own_columns(values);
  const auto width = static_cast<Eigen::Index>(columns.size());
  if (!derivatives || !has_heat() || width == 0 || width > kMostHeatColumns) {
    return Evidence::condense(values, derivatives, out);
  }
  HeatSums sums;
  if (!heat_sums(model_, map_.law(values, sweep_), track_, columns, node_weight_.data(),
                 measured_N().data(), sums)) {
    return false;
  }
  const Eigen::Map<const RowMatrix> square(sums.square, width, width);
  out.clear(map_.size());
  out.sum = sums.sum;
  const auto position = [&](Eigen::Index column) -> Eigen::Index {
    return column < map_.shared_size() ? column : map_.fill_position(sweep_);
  };
  for (Eigen::Index row = 0; row < width; ++row) {
    out.gradient(position(row)) = sums.gradient[row];
    for (Eigen::Index c = 0; c <= row; ++c) out.square(position(row), position(c)) = square(row, c);
  }
  return std::isfinite(out.sum) && out.gradient.allFinite() && out.square.allFinite();
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
