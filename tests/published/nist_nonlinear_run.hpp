// The NIST nonlinear regression sets through the solver that fits the forks: the same Evidence, the
// same Levenberg-Marquardt, the same linearisation for the standard deviations.
#pragma once

#include "fitting/solve/multistart.hpp"
#include "fitting/solve/problem.hpp"
#include "tests/published/nist_nonlinear_data.hpp"
#include "tests/published/nist_nonlinear_models.hpp"

namespace nist {

// A published set, with each parameter measured in units of its starting value: the solver works
// with numbers near one, as the fit of a fork gives them to it. The set must outlive it.
class SetEvidence final : public fitting::Evidence {
 public:
  SetEvidence(const Set& set, const std::vector<double>& unit)
      : set_(set), unit_(unit), model_(model_of(set.name)) {}

  int rows() const override { return static_cast<int>(set_.y.size()); }
  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                fitting::RowMatrix* jacobian) const override;

 private:
  const Set& set_;
  std::vector<double> unit_;
  Model model_;
};

fitting::Problem make_problem(const fitting::Evidence& evidence, std::size_t parameters);
fitting::SolveOptions patient();

// Correct significant digits: the log relative error, 11 at most.
double digits(double found, double certified);

struct Outcome {
  bool converged = false;
  bool determined = false;  // false: some parameter does not act on the residual where it ended
  double sum_of_squares = 0.0;
  double parameter_digits = 0.0;  // of the worst parameter
  double deviation_digits = 0.0;
  double sum_digits = 0.0;

  // An end that calls itself an answer.
  bool offered() const { return converged && determined; }
};

// unit: what each parameter is measured in.
Outcome judge(const Set& set, const std::vector<double>& unit, const fitting::Problem& problem,
              const fitting::Solution& solution);
Outcome solve_set(const Set& set, const std::vector<double>& start);

}  // namespace nist
