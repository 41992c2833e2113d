// Many rows of evidence as few: what a least-squares step needs of them is their normal equations,
// and a square root of those stands for the rows exactly.
//
//   |r|^2, J^T r and J^T J are those of all rows;   rows = P + 1
//
// The normal equations square the condition, so columns are brought to one length first, and
// directions below rounding are left out rather than made up. Problems of few rows are better
// solved by their rows.
#pragma once

#include <vector>

#include "fitting/solve/problem.hpp"

namespace fitting {

class CondensedEvidence final : public Evidence {
 public:
  // The parts must outlive this. They are evaluated by this many threads; this itself is for one.
  CondensedEvidence(std::vector<const Evidence*> parts, int parameters, int threads);

  int rows() const override { return parameters_ + 1; }
  bool exists_at(const Eigen::VectorXd& values) const { return gather(values); }
  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override;

 private:
  bool gather(const Eigen::VectorXd& values) const;

  std::vector<const Evidence*> parts_;
  int parameters_;
  int threads_;
  // Of the last values asked for. A step that is taken asks for its misfit first and for its slopes
  // right after: both come from one look at the rows.
  mutable NormalEquations last_;
  mutable Eigen::VectorXd last_values_;
  mutable bool last_exists_ = false;
};

}  // namespace fitting
