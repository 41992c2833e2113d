// One sweep's cells held against the force law.
#pragma once

#include "fitting/model/follow.hpp"
#include "fitting/solve/evidence.hpp"
#include "fitting/solve/parameter_map.hpp"

namespace fitting {

class SweepEvidence final : public Evidence {
 public:
  // The path and the map must outlive this.
  SweepEvidence(const Path& path, SweepModel model, const ParameterMap& map, int sweep);

  int rows() const override { return static_cast<int>(counted_.size()); }
  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override;

  bool condense_by_stroke(const Eigen::VectorXd& values,
                          std::vector<NormalEquations>& out) const override;

  // Variance that one sample is given; cells of n samples weigh n times as much.
  void set_sample_variance(double variance_N2);

  // Simulated force of every counted cell and its gradient (rows x kLawSize) by the law's
  // parameters, SI.
  bool simulate(const Eigen::VectorXd& values, Eigen::VectorXd& force_N, RowMatrix* gradient) const;

  // Puts the simulated forces into the path's cells, as if they had been measured. REQUIRES: the
  // path is this one's own, and the model exists.
  void foresee(const Eigen::VectorXd& values, Path& path) const;

  const PathNode& node(int row) const {
    return path_.nodes[counted_[static_cast<std::size_t>(row)]];
  }
  double weight(int row) const { return weight_(row); }
  const Path& path() const { return path_; }
  const SweepModel& model() const { return model_; }

 private:
  const Path& path_;
  SweepModel model_;
  const ParameterMap& map_;
  int sweep_;
  std::vector<std::size_t> counted_;  // nodes with rows that count
  Eigen::VectorXd weight_;            // rows x 1, 1/N
  std::vector<LawIndex> by_;          // the free ones, then the fill error
};

}  // namespace fitting
