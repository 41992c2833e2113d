// A gapless stretch of force over travel with its covariance: what quantities and comparisons work
// on, whether it was measured or comes from a model.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "fitting/curve/loop.hpp"

namespace fitting {

// Travel ascends in equal steps.
struct Curve {
  std::vector<double> travel_m;
  double grid_step_m = 0.0;
  Eigen::VectorXd force_N;
  Eigen::MatrixXd covariance_N2;  // noise, scatter and backlash; not the instruments

  std::size_t size() const { return travel_m.size(); }
  double standard_uncertainty_N(std::size_t i) const;
};

// The longest stretch where the loop is valid: of its midline, or of a single stroke that branch.
// ERRORS: record_unusable if fewer than 5 points remain.
protocol::Result<Curve> midline_curve(const Loop& loop);

// Local rate dF/dx by local parabolas over 7 mm, with its standard uncertainty.
struct Rate {
  std::vector<double> rate_N_m;
  std::vector<double> standard_uncertainty_N_m;
};
Rate local_rate(const Curve& curve);

// Work of a curve between two travels, by trapezoids on its grid and straight lines inside a cell.
// Empty where the curve does not cover both.
std::optional<double> work_J(const std::vector<double>& travel_m, const Eigen::VectorXd& force_N,
                             double from_m, double to_m);

// Area of the loop that the path draws, closed by a straight line from its last row to its first:
// the work lost in it, positive where compression lies above rebound.
double loop_area_J(const std::vector<double>& travel_m, const std::vector<double>& force_N);

// Travel where the curve comes to carry the force, the first one from full extension; empty: never.
std::optional<double> travel_at_force(const std::vector<double>& travel_m,
                                      const Eigen::VectorXd& force_N, double wanted_N);

// Linear between neighbours. Empty outside.
std::optional<double> force_at(const std::vector<double>& travel_m, const Eigen::VectorXd& force_N,
                               double wanted_m);

}  // namespace fitting
