#include "fitting/solve/reduction/reduced_evidence.hpp"

#include <cmath>

namespace fitting {

ReducedEvidence::ReducedEvidence(const Reduction& reduction, SweepModel model,
                                 const ParameterMap& map, int sweep)
    : reduction_(reduction), model_(model), map_(map), sweep_(sweep) {
  for (int i = 0; i < map.shared_size(); ++i) {
    by_.push_back(map.free[static_cast<std::size_t>(i)].index);
    position_.push_back(i);
  }
  if (map.fill_errors) {
    by_.push_back(kFillError);
    position_.push_back(map.fill_position(sweep));
  }
  for (const ReducedStroke& stroke : reduction.strokes()) {
    rows_ += kNodes * static_cast<int>(stroke.segments.size());
  }
}

std::vector<StrokeTerms> ReducedEvidence::terms(const Eigen::VectorXd& values) const {
  return make_stroke_terms(model_, map_.law(values, sweep_), by_, reduction_);
}

void ReducedEvidence::spread(const NormalEquations& own, const Eigen::VectorXd& values,
                             NormalEquations& out) const {
  Eigen::VectorXd slopes(columns());
  slopes.head(map_.shared_size()) = map_.slopes(values);
  if (map_.fill_errors) slopes(map_.shared_size()) = map_.fill_unit_Pa;
  out.clear(map_.size());
  out.sum = own.sum / variance_N2_;
  for (int i = 0; i < columns(); ++i) {
    const int row = position_[static_cast<std::size_t>(i)];
    out.gradient(row) = own.gradient(i) * slopes(i) / variance_N2_;
    for (int j = 0; j <= i; ++j) {
      const int column = position_[static_cast<std::size_t>(j)];
      out.square(row, column) = own.square(i, j) * slopes(i) * slopes(j) / variance_N2_;
    }
  }
}

bool ReducedEvidence::condense(const Eigen::VectorXd& values, bool derivatives,
                               NormalEquations& out) const {
  const std::vector<StrokeTerms> terms = make_stroke_terms(
      model_, map_.law(values, sweep_), derivatives ? by_ : std::vector<LawIndex>{}, reduction_);
  if (terms.empty()) return false;
  NormalEquations own;
  own.clear(derivatives ? columns() : 0);
  for (std::size_t i = 0; i < terms.size(); ++i) {
    add_segments(terms[i], reduction_.strokes()[i], columns(), derivatives, own);
  }
  if (!std::isfinite(own.sum)) return false;
  if (derivatives) {
    spread(own, values, out);
  } else {
    out.sum = own.sum / variance_N2_;
  }
  return true;
}

bool ReducedEvidence::condense_by_stroke(const Eigen::VectorXd& values,
                                         std::vector<NormalEquations>& out) const {
  const std::vector<StrokeTerms> terms = this->terms(values);
  if (terms.empty()) return false;
  out.resize(terms.size());
  NormalEquations own;
  for (std::size_t i = 0; i < terms.size(); ++i) {
    own.clear(columns());
    add_segments(terms[i], reduction_.strokes()[i], columns(), true, own);
    spread(own, values, out[i]);
  }
  return true;
}

// Row by row, for the few who want rows: eight to a segment.
bool ReducedEvidence::evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                               RowMatrix* jacobian) const {
  const std::vector<StrokeTerms> terms = this->terms(values);
  if (terms.empty()) return false;
  const double weight = 1.0 / std::sqrt(variance_N2_);
  Eigen::VectorXd slopes(columns());
  slopes.head(map_.shared_size()) = map_.slopes(values);
  if (map_.fill_errors) slopes(map_.shared_size()) = map_.fill_unit_Pa;
  if (jacobian != nullptr) jacobian->setZero(rows(), map_.size());
  Eigen::MatrixXd nodal(kNodes, columns());
  Eigen::VectorXd force_N(kNodes);
  std::vector<double> row(by_.size());
  int at = 0;
  for (std::size_t i = 0; i < terms.size(); ++i) {
    for (const Segment& segment : reduction_.strokes()[i].segments) {
      for (int j = 0; j < kNodes; ++j) {
        force_N(j) =
            force_at(terms[i], segment.travel_m[j], columns(), row.data()) - segment.reference_N;
        nodal.row(j) = Eigen::Map<const Eigen::RowVectorXd>(row.data(), columns());
      }
      const auto root = Eigen::Map<const Eigen::Matrix<double, kNodes, kNodes>>(segment.root[0]);
      const auto target = Eigen::Map<const Eigen::Matrix<double, kNodes, 1>>(segment.target);
      residuals.segment(at, kNodes) = weight * (root * force_N - target);
      if (jacobian != nullptr) {
        const Eigen::MatrixXd own = weight * root * nodal * slopes.asDiagonal();
        for (int c = 0; c < columns(); ++c) {
          jacobian->block(at, position_[static_cast<std::size_t>(c)], kNodes, 1) = own.col(c);
        }
      }
      at += kNodes;
    }
  }
  return residuals.allFinite();
}

}  // namespace fitting
