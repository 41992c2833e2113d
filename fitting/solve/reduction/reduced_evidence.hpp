// One sweep without a clock, held against the force law through its reduction.
#pragma once

#include "fitting/solve/evidence.hpp"
#include "fitting/solve/parameter_map.hpp"
#include "fitting/solve/reduction/sums.hpp"

namespace fitting {

class ReducedEvidence final : public Evidence {
 public:
  // The reduction and the map must outlive this. REQUIRES: model.law is GasLaw::exponent.
  ReducedEvidence(const Reduction& reduction, SweepModel model, const ParameterMap& map, int sweep);

  int rows() const override { return rows_; }
  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override;
  bool condense(const Eigen::VectorXd& values, bool derivatives,
                NormalEquations& out) const override;

  // Variance that one sample is given.
  void set_sample_variance(double variance_N2) { variance_N2_ = variance_N2; }

  // REQUIRES: strokes kept apart.
  bool condense_by_stroke(const Eigen::VectorXd& values,
                          std::vector<NormalEquations>& out) const override;

  const Reduction& reduction() const { return reduction_; }
  // The strokes' terms, with slopes by the sweep's own columns.
  std::vector<StrokeTerms> terms(const Eigen::VectorXd& values) const;
  // To the solver's parameters from the sweep's own columns.
  void spread(const NormalEquations& own, const Eigen::VectorXd& values,
              NormalEquations& out) const;
  int columns() const { return static_cast<int>(by_.size()); }

 private:
  const Reduction& reduction_;
  SweepModel model_;
  const ParameterMap& map_;
  int sweep_;
  int rows_ = 0;
  double variance_N2_ = 1.0;
  std::vector<LawIndex> by_;   // the free ones, then the fill error
  std::vector<int> position_;  // of each among the solver's parameters
};

}  // namespace fitting
