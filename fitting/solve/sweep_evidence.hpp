// One sweep's cells held against the force law.
#pragma once

#include <functional>

#include "fitting/model/follow.hpp"
#include "fitting/model/heat_kernel.hpp"
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

  bool condense(const Eigen::VectorXd& values, bool derivatives,
                NormalEquations& out) const override;
  bool condense_by_stroke(const Eigen::VectorXd& values,
                          std::vector<NormalEquations>& out) const override;

  // Variance that one sample is given; cells of n samples weigh n times as much.
  void set_sample_variance(double variance_N2);

  // Simulated force of every counted cell and its gradient (rows x kLawSize) by the law's
  // parameters, SI.
  bool simulate(const Eigen::VectorXd& values, Eigen::VectorXd& force_N, RowMatrix* gradient) const;

  // Change of the simulated forces (rows x 1), by moving every node of the path by step times its
  // move_m and over the step. RETURNS: as above.
  bool change_by_moving(const Eigen::VectorXd& values,
                        const std::function<double(const PathNode&)>& move_m, double step,
                        Eigen::VectorXd& change_N) const;

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
  bool has_heat() const { return model_.law != GasLaw::exponent; }
  bool forces(const LawParameters<double>& law, Eigen::VectorXd& node_N) const;
  // Besides, slopes (nodes x columns), each times its column's scale.
  bool forces_and_slopes(const LawParameters<double>& law, const std::vector<SlopeColumn>& columns,
                         Eigen::VectorXd& node_N, RowMatrix& slopes) const;
  Eigen::VectorXd measured_N() const;  // nodes x 1
  // The free parameters by the solver's numbers, then the fill error.
  std::vector<SlopeColumn> own_columns(const Eigen::VectorXd& values) const;

  const Path& path_;
  SweepModel model_;
  const ParameterMap& map_;
  int sweep_;
  std::vector<std::size_t> counted_;  // nodes with rows that count
  Eigen::VectorXd weight_;            // rows x 1, 1/N
  HeatTrack track_;                   // with heat: the path as its kernel goes along it
  Eigen::VectorXd node_weight_;       // nodes x 1, 1/N; nothing where a node does not count
};

}  // namespace fitting
