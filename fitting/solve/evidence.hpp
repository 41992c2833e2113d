// What a fit is held against: weighted residual rows and their Jacobian, wherever they come from.
//
// A source of rows may be samples one by one, cells that stand for many samples, or a reduction of
// either; the solver sees no difference.
#pragma once

#include "fitting/model/row_matrix.hpp"

namespace fitting {

class Evidence {
 public:
  virtual ~Evidence() = default;

  virtual int rows() const = 0;

  // Residuals (rows x 1), dimensionless: divided by their standard deviation. Jacobian (rows x P),
  // by the solver's parameters, or null. RETURNS: false where the model does not exist at these
  // values. May be called from several threads at once.
  virtual bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                        RowMatrix* jacobian) const = 0;
};

}  // namespace fitting
