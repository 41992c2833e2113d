// What a fit is held against: weighted residual rows and their Jacobian, wherever they come from.
//
// A source of rows may be samples one by one, cells that stand for many samples, or a reduction of
// either; the solver sees no difference.
#pragma once

#include <vector>

#include "fitting/model/row_matrix.hpp"

namespace fitting {

// What a least-squares step needs of any number of rows.
struct NormalEquations {
  Eigen::MatrixXd square;    // J^T J (P x P), the lower triangle
  Eigen::VectorXd gradient;  // J^T r (P x 1)
  double sum = 0.0;          // |r|^2

  void clear(int parameters) {
    square.setZero(parameters, parameters);
    gradient.setZero(parameters);
    sum = 0.0;
  }
  void add(const NormalEquations& other, double times = 1.0) {
    square += times * other.square;
    gradient += times * other.gradient;
    sum += times * other.sum;
  }
};

class Evidence {
 public:
  virtual ~Evidence() = default;

  virtual int rows() const = 0;

  // Residuals (rows x 1), dimensionless: divided by their standard deviation. Jacobian (rows x P),
  // by the solver's parameters, or null. RETURNS: false where the model does not exist at these
  // values. May be called from several threads at once.
  virtual bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                        RowMatrix* jacobian) const = 0;

  // The rows' normal equations; without derivatives their sum alone. RETURNS: as above.
  virtual bool condense(const Eigen::VectorXd& values, bool derivatives,
                        NormalEquations& out) const;

  // The normal equations of each stroke by itself, where there are strokes. RETURNS: as above.
  virtual bool condense_by_stroke(const Eigen::VectorXd& values,
                                  std::vector<NormalEquations>& out) const;
};

}  // namespace fitting
