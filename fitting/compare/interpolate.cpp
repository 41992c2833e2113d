#include "fitting/compare/interpolate.hpp"

#include <algorithm>

namespace fitting {

Eigen::MatrixXd interpolation(const std::vector<double>& from_m,
                              const std::vector<double>& wanted_m) {
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(wanted_m.size()),
                                                 static_cast<Eigen::Index>(from_m.size()));
  for (std::size_t i = 0; i < wanted_m.size(); ++i) {
    const auto right = std::upper_bound(from_m.begin() + 1, from_m.end() - 1, wanted_m[i]);
    const auto j = static_cast<Eigen::Index>(right - from_m.begin());
    const double share = (wanted_m[i] - *(right - 1)) / (*right - *(right - 1));
    matrix(static_cast<Eigen::Index>(i), j - 1) = 1.0 - share;
    matrix(static_cast<Eigen::Index>(i), j) = share;
  }
  return matrix;
}

Eigen::MatrixXd held_interpolation(const std::vector<double>& from_m,
                                   const std::vector<double>& wanted_m) {
  std::vector<double> within_m = wanted_m;
  for (double& each_m : within_m) each_m = std::clamp(each_m, from_m.front(), from_m.back());
  return interpolation(from_m, within_m);
}

Eigen::VectorXd vector_of(const std::vector<double>& values) {
  return Eigen::Map<const Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()));
}

std::vector<double> even_grid_m(double from_m, double to_m, long cells) {
  std::vector<double> grid_m;
  const double step_m = (to_m - from_m) / static_cast<double>(cells);
  for (long i = 0; i <= cells; ++i) grid_m.push_back(from_m + static_cast<double>(i) * step_m);
  return grid_m;
}

}  // namespace fitting
