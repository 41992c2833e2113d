// A path followed with the force law and its derivatives by a few parameters: what the solver asks
// for thousands of times.
#pragma once

#include <vector>

#include "fitting/model/follow.hpp"
#include "fitting/model/row_matrix.hpp"

namespace fitting {

// The most parameters it takes at once.
inline constexpr int kWidestGradient = 16;

// Force at every node (N x 1) and its slopes (N x by.size(), SI) by the parameters of the list.
// RETURNS: false where a chamber would have no volume. REQUIRES: by.size() <= kWidestGradient.
bool follow_with_gradient(const SweepModel& model, const LawParameters<double>& parameters,
                          const Path& path, const std::vector<LawIndex>& by,
                          Eigen::VectorXd& force_N, RowMatrix& gradient);

}  // namespace fitting
