// A data set as other solvers want it: a function from six numbers to all residuals and their
// Jacobian, in the same vectorised kernel and instruction set as ours.
#pragma once

#include "tests/benchmarks/speed/data_sets.hpp"

namespace peers {

class Rows {
 public:
  explicit Rows(const speed::DataSet& set);

  std::size_t size() const { return rows_; }
  const double* start() const { return set_.start.data(); }
  // RETURNS: false where the model does not exist. jacobian.at may be null.
  bool evaluate(const double* values, double* residual_N, const fitting::JacobianPlace& jacobian);

 private:
  const speed::DataSet& set_;
  std::vector<fitting::Reduction> strokes_;  // only their directions and reversals are used
  std::vector<fitting::LawIndex> by_;
  std::size_t rows_ = 0;
};

struct Outcome {
  std::vector<double> values;  // as the set's map takes them
  int evaluations = 0;
};

// Levenberg-Marquardt with Cholesky steps, and MINPACK's lmder. Both stop at a relative change of
// the cost of 1e-10.
Outcome fit_gsl(Rows& rows);
Outcome fit_cminpack(Rows& rows);

}  // namespace peers
