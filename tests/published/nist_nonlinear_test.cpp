// Held to the certified values: the solver that fits the forks, on all the published nonlinear
// sets.
//
// The sets know nothing of forks, but their difficulties are the fit's own. Bennett5 is the
// published analogue of the air spring: b1 (b2 + x)^(-1/b3) is the force c (L - x)^(-n) of a
// polytropic chamber, with the same flat valley between the volume and the exponent.
#include <Eigen/Dense>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/published/nist_nonlinear_run.hpp"

namespace {

using namespace nist;

Set loaded(const std::string& name) {
  auto set = load_set(name);
  if (!set) FAIL(set.error().message);
  return *set;
}

// What BoxBOD is known for: from its first start b2 runs away until the curve is a step, where
// nothing depends on b2 any more.
bool is_known_trap(const std::string& name, int start) {
  return name == "BoxBOD" && start == 1;
}

// Data that are exact to the last digit of a double leave a sum of squares that rounding makes, and
// deviations in proportion: there is nothing to compare.
bool is_exact(const std::string& name) {
  return name == "Lanczos1";
}

}  // namespace

TEST_CASE("solver: the certified values of the NIST nonlinear sets are reached from both starts",
          "[fit][oracle]") {
  // Source: [NIST-StRD] certified parameters, standard deviations and residual sums of squares of
  // 27 sets; 11 digits.
  // Rule: agree to 6 digits (log relative error >= 6) in parameters and sum of squares, to 4 in the
  // standard deviations, from start 1 and from start 2.
  CHECK(set_names().size() == 27);
  for (const std::string& name : set_names()) {
    const Set set = loaded(name);
    for (const int start : {1, 2}) {
      if (is_known_trap(name, start)) continue;
      const Outcome outcome = solve_set(set, start == 1 ? set.start_1 : set.start_2);
      CAPTURE(name, start);
      CHECK(outcome.offered());
      CHECK(outcome.parameter_digits >= 6.0);
      if (is_exact(name)) {
        CHECK(outcome.sum_of_squares < 1e-20);
        continue;
      }
      CHECK(outcome.deviation_digits >= 4.0);
      CHECK(outcome.sum_digits >= 6.0);
    }
  }
}

TEST_CASE("solver: the trap of BoxBOD is seen as one, and many starts lead out of it",
          "[fit][oracle]") {
  // Source: [NIST-StRD] BoxBOD, start 1, certified parameters.
  const Set set = loaded("BoxBOD");
  const SetEvidence evidence(set, set.start_1);
  const fitting::Problem problem = make_problem(evidence, 2);
  const fitting::Solution single = fitting::solve(problem, patient());
  const Outcome outcome = judge(set, set.start_1, problem, single);
  // Either the answer is the certified one, or its linearisation is singular: no standard deviation
  // could be given for b2, so that nobody takes the number for an answer.
  CHECK((outcome.parameter_digits >= 6.0 || !outcome.offered()));

  fitting::MultistartOptions options;
  options.candidates = 200;
  options.solve = patient();
  Eigen::VectorXd spread(2);
  spread << 300.0, 1.0;
  const fitting::MultistartOutcome many = fitting::solve_many(problem, spread, {}, options);
  CHECK(judge(set, set.start_1, problem, many.best).parameter_digits >= 6.0);
  CHECK(many.best.cost <= single.cost);
}

TEST_CASE("solver: a shifted power law, the polytropic air spring's own form, is solved as one",
          "[fit][oracle]") {
  // Source: [NIST-StRD] Bennett5, certified b2 and b3: y = b1 (b2 + x)^(-1/b3) is c (L - z)^(-n)
  // with z = -x, L = b2 and n = 1/b3.
  const Set set = loaded("Bennett5");
  class PowerLaw final : public fitting::Evidence {
   public:
    explicit PowerLaw(const Set& data) : data_(data) {}
    int rows() const override { return static_cast<int>(data_.x.size()); }
    bool evaluate(const Eigen::VectorXd& v, Eigen::Ref<Eigen::VectorXd> residuals,
                  fitting::RowMatrix* jacobian) const override {
      for (int row = 0; row < rows(); ++row) {
        const auto at = static_cast<std::size_t>(row);
        const double length = 50.0 * v(1) + data_.x[at];
        if (length <= 0.0) return false;
        const double force = 2000.0 * v(0) * std::pow(length, -v(2));
        residuals(row) = -force - data_.y[at];
        if (jacobian == nullptr) continue;
        jacobian->row(row) << -force / v(0), 50.0 * v(2) * force / length, force * std::log(length);
      }
      return true;
    }

   private:
    const Set& data_;
  };
  const PowerLaw evidence(set);
  fitting::Problem problem = make_problem(evidence, 3);
  problem.parameters[2].start = 1.0 / set.start_1[2];
  const fitting::Solution solution = fitting::solve(problem, patient());
  CHECK(solution.converged);
  CHECK(digits(50.0 * solution.values(1), set.certified[1]) >= 6.0);
  CHECK(digits(solution.values(2), 1.0 / set.certified[2]) >= 6.0);
  CHECK(digits(2.0 * solution.cost, set.residual_sum_of_squares) >= 6.0);
}
