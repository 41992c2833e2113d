// Values at wanted travels from values at others, as a matrix, so that covariances can follow.
#pragma once

#include <Eigen/Core>
#include <vector>

namespace fitting {

// wanted.size() x from.size(); straight between neighbours, and on along the end pieces beyond the
// ends. REQUIRES: `from_m` ascending with at least two points.
Eigen::MatrixXd interpolation(const std::vector<double>& from_m,
                              const std::vector<double>& wanted_m);

// The same with the end values held beyond the ends.
Eigen::MatrixXd held_interpolation(const std::vector<double>& from_m,
                                   const std::vector<double>& wanted_m);

Eigen::VectorXd vector_of(const std::vector<double>& values);

// `cells` + 1 travels, evenly spaced from the first to the last.
std::vector<double> even_grid_m(double from_m, double to_m, long cells);

}  // namespace fitting
