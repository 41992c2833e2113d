// Why two forks differ: the difference of their compression strokes split by what causes it.
//
//   compression = elements of the slow spring + heat of the gas + half-loop
//
// heat: what a settled cycle's midline lies above the slow spring; half-loop: what the stroke lies
// above the midline, friction and the gas's lag together. At every travel the parts add up to the
// total.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "fitting/model/predict.hpp"

namespace fitting {

struct Contribution {
  std::string name;
  Eigen::VectorXd difference_N;  // A - B, n x 1
};

struct Contributions {
  std::vector<double> travel_m;  // n, what both predictions cover
  std::vector<Contribution> parts;
  Eigen::VectorXd total_N;  // of the compression strokes, n x 1
};

inline constexpr const char* kHeatPart = "heat of the gas";
inline constexpr const char* kHalfLoopPart = "half-loop";

// An element that only one fork has stands against nothing. REQUIRES: predictions with the same
// step from the same start.
Contributions contributions_of(const Prediction& a, const Prediction& b);

// Mean of a part between two travels.
double mean_between_N(const Contributions& all, const Eigen::VectorXd& part_N, double from_m,
                      double to_m);

}  // namespace fitting
