// A matrix whose rows lie together, as a Jacobian is filled.
#pragma once

#include <Eigen/Core>

namespace fitting {

using RowMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

}  // namespace fitting
