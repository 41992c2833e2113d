// The solver behind the fit: exact where the answer is known, honest where there is none, and the
// same answer whatever the number of threads.
#include <Eigen/Dense>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>

#include "fitting/solve/multistart.hpp"
#include "fitting/solve/problem.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// Residuals A v - b.
class Linear final : public Evidence {
 public:
  Linear(Eigen::MatrixXd a, Eigen::VectorXd b) : a_(std::move(a)), b_(std::move(b)) {}
  int rows() const override { return static_cast<int>(b_.size()); }
  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override {
    residuals = a_ * values - b_;
    if (jacobian != nullptr) *jacobian = a_;
    return true;
  }

 private:
  Eigen::MatrixXd a_;
  Eigen::VectorXd b_;
};

// Many minima: residual 2 + sin(3 v) + v / 10, and none below -4, where the model ends.
class Wavy final : public Evidence {
 public:
  int rows() const override { return 1; }
  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override {
    if (values(0) < -4.0) return false;
    residuals(0) = 2.0 + std::sin(3.0 * values(0)) + 0.1 * values(0);
    if (jacobian != nullptr) (*jacobian)(0, 0) = 3.0 * std::cos(3.0 * values(0)) + 0.1;
    return true;
  }
};

// A model that has no value anywhere, or not a number.
class Nowhere final : public Evidence {
 public:
  explicit Nowhere(bool says_so) : says_so_(says_so) {}
  int rows() const override { return 2; }
  bool evaluate(const Eigen::VectorXd&, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override {
    residuals.setConstant(std::numeric_limits<double>::quiet_NaN());
    if (jacobian != nullptr) jacobian->setZero();
    return !says_so_;
  }

 private:
  bool says_so_;
};

Problem problem_of(const Evidence& evidence, int parameters) {
  Problem problem;
  for (int i = 0; i < parameters; ++i) problem.parameters.push_back({"v" + std::to_string(i)});
  problem.evidence = {&evidence};
  return problem;
}

// To the last digits: the damping of a descent leaves some where it stops early.
SolveOptions thorough() {
  SolveOptions options;
  options.relative_cost_change = 1e-20;
  options.relative_step = 1e-15;
  return options;
}

struct System {
  Eigen::MatrixXd a;
  Eigen::VectorXd b;
};

System random_system(int rows, int columns) {
  std::mt19937_64 engine(7);
  std::normal_distribution<double> normal;
  System out{Eigen::MatrixXd(rows, columns), Eigen::VectorXd(rows)};
  for (int i = 0; i < rows; ++i) {
    for (int j = 0; j < columns; ++j) out.a(i, j) = normal(engine);
    out.b(i) = normal(engine);
  }
  return out;
}

}  // namespace

TEST_CASE("solver: a linear problem is solved to its normal equations", "[fit]") {
  const System system = random_system(40, 5);
  const Linear evidence(system.a, system.b);
  Problem problem = problem_of(evidence, 5);
  const Solution solution = solve(problem, thorough());
  const Eigen::VectorXd expected = system.a.colPivHouseholderQr().solve(system.b);
  REQUIRE(solution.converged);
  CHECK((solution.values - expected).norm() < 1e-9);
  CHECK_THAT(solution.cost, WithinRel(0.5 * (system.a * expected - system.b).squaredNorm(), 1e-12));
  CHECK_THAT(cost_at(problem, solution.values), WithinRel(solution.cost, 1e-14));
}

TEST_CASE("solver: a prior is one more row", "[fit]") {
  const System system = random_system(12, 3);
  const Linear evidence(system.a, system.b);
  Problem problem = problem_of(evidence, 3);
  // v0 = 2 +/- 0.1, and v1 - 2 v2 = 0.5 +/- 0.05.
  problem.priors = {{{{0, 1.0}}, 2.0, 0.1}, {{{1, 1.0}, {2, -2.0}}, 0.5, 0.05}};
  Eigen::MatrixXd a(14, 3);
  Eigen::VectorXd b(14);
  a << system.a, 10.0, 0.0, 0.0, 0.0, 20.0, -40.0;
  b << system.b, 20.0, 10.0;
  const Eigen::VectorXd expected = a.colPivHouseholderQr().solve(b);
  const Solution solution = solve(problem, thorough());
  CHECK((solution.values - expected).norm() < 1e-9);

  const Linearisation at = linearise(problem, solution.values);
  CHECK(at.evidence_rows == 12);
  REQUIRE(at.jacobian.rows() == 14);
  CHECK((at.jacobian - a).norm() < 1e-12);
  CHECK((at.residuals - (a * solution.values - b)).norm() < 1e-9);
}

TEST_CASE("solver: bounds hold, and the others are best within them", "[fit]") {
  // One parameter presses on its bound with all its might, and another is tied to it.
  Eigen::MatrixXd a(3, 2);
  a << 1.0, 0.0, 0.0, 1.0, 1.0, 1.0;
  const Linear evidence(a, Eigen::Vector3d(30.0, -1.0, 0.0));
  Problem problem = problem_of(evidence, 2);
  problem.parameters[0].high = 1.0;
  problem.parameters[1].low = -5.0;
  const Solution solution = solve(problem);
  CHECK(solution.converged);
  CHECK_THAT(solution.values(0), WithinAbs(1.0, 1e-12));
  // With v0 = 1: minimise (v1 + 1)^2 + (1 + v1)^2. Because the default tolerance is relative to a
  // cost of 420.
  CHECK_THAT(solution.values(1), WithinAbs(-1.0, 1e-4));
}

TEST_CASE("solver: a bound that was touched on the way is left again", "[fit]") {
  // From far away the valley leads over the bound; the minimum lies inside.
  class Valley final : public Evidence {
   public:
    int rows() const override { return 2; }
    bool evaluate(const Eigen::VectorXd& v, Eigen::Ref<Eigen::VectorXd> residuals,
                  RowMatrix* jacobian) const override {
      residuals << 10.0 * (v(1) - v(0) * v(0)), 1.0 - v(0);
      if (jacobian != nullptr) *jacobian << -20.0 * v(0), 10.0, -1.0, 0.0;
      return true;
    }
  };
  const Valley evidence;
  Problem problem = problem_of(evidence, 2);
  problem.parameters[0].low = -1.3;
  problem.parameters[1].high = 1.2;
  const Solution solution = solve_from(problem, Eigen::Vector2d(-1.3, 1.2), thorough());
  CHECK(solution.converged);
  CHECK((solution.values - Eigen::Vector2d(1.0, 1.0)).norm() < 1e-6);
  problem.parameters[1].high = 0.5;  // and where it lies outside, the best on the bound is found
  const Solution held = solve_from(problem, Eigen::Vector2d(-1.3, 0.4), thorough());
  CHECK_THAT(held.values(1), WithinAbs(0.5, 1e-12));
  // 200 v (v^2 - 0.5) = 1 - v.
  const double v = held.values(0);
  CHECK_THAT(200.0 * v * (v * v - 0.5), WithinAbs(1.0 - v, 1e-5));
}

TEST_CASE("solver: a failure is an outcome with its reason", "[fit]") {
  const bool says_so = GENERATE(true, false);
  const Nowhere evidence(says_so);
  const Problem problem = problem_of(evidence, 2);
  const Solution solution = solve(problem);
  CHECK_FALSE(solution.converged);
  CHECK(std::isinf(solution.cost));
  CHECK_THAT(solution.message, Contains("does not exist"));
  CHECK(std::isinf(cost_at(problem, Eigen::Vector2d::Zero())));
  // With many starts too.
  const MultistartOutcome many =
      solve_many(problem, Eigen::Vector2d::Ones(), {Eigen::Vector2d::Ones()}, {});
  CHECK_FALSE(many.best.converged);
  CHECK(many.minima.empty());
  CHECK(many.started == 2);  // nothing that was drawn was worth a start
}

TEST_CASE("solver: too few iterations are not called convergence", "[fit]") {
  const Wavy evidence;
  Problem problem = problem_of(evidence, 1);
  problem.parameters[0].start = 1.0;
  SolveOptions options;
  options.iterations_max = 1;
  CHECK_FALSE(solve(problem, options).converged);
  CHECK(solve(problem).converged);
}

TEST_CASE("solver: where the model ends, the step is shortened and not the search given up",
          "[fit]") {
  const Wavy evidence;
  Problem problem = problem_of(evidence, 1);
  const Solution solution = solve_from(problem, Eigen::VectorXd::Constant(1, -3.9));
  CHECK(solution.converged);
  CHECK(solution.values(0) >= -4.0);
}

TEST_CASE("many starts: the lowest of many minima is found, and the same with any threads",
          "[fit]") {
  const Wavy evidence;
  Problem problem = problem_of(evidence, 1);
  problem.parameters[0].start = 1.0;
  MultistartOptions options;
  options.candidates = 40;
  options.solved = 12;
  const Eigen::VectorXd spread = Eigen::VectorXd::Constant(1, 6.0);
  options.threads = 1;
  const MultistartOutcome one = solve_many(problem, spread, {}, options);
  // The grid says where the lowest one lies.
  double lowest = std::numeric_limits<double>::infinity();
  for (double v = -4.0; v < 7.0; v += 1e-4) {
    lowest = std::min(lowest, cost_at(problem, Eigen::VectorXd::Constant(1, v)));
  }
  CHECK_THAT(one.best.cost, WithinAbs(lowest, 1e-6));
  CHECK(one.best.cost < solve(problem).cost);
  CHECK(one.started == 12);
  CHECK(std::is_sorted(one.minima.begin(), one.minima.end(),
                       [](const Solution& a, const Solution& b) { return a.cost < b.cost; }));
  for (const int threads : {2, 5}) {
    options.threads = threads;
    const MultistartOutcome more = solve_many(problem, spread, {}, options);
    REQUIRE(more.minima.size() == one.minima.size());
    for (std::size_t i = 0; i < one.minima.size(); ++i) {
      CHECK(more.minima[i].values(0) == one.minima[i].values(0));
      CHECK(more.minima[i].cost == one.minima[i].cost);
    }
  }
  options.seed += 1;
  CHECK_THAT(solve_many(problem, spread, {}, options).best.cost, WithinAbs(lowest, 1e-6));
}

TEST_CASE("many starts: draws keep the bounds, and a start that is given is used", "[fit]") {
  const Wavy evidence;
  Problem problem = problem_of(evidence, 1);
  problem.parameters[0].start = 1.0;
  problem.parameters[0].low = 0.0;
  problem.parameters[0].high = 1.4;
  MultistartOptions options;
  options.solved = 20;
  const MultistartOutcome held =
      solve_many(problem, Eigen::VectorXd::Constant(1, 6.0), {}, options);
  for (const Solution& minimum : held.minima) {
    CHECK(minimum.values(0) >= 0.0);
    CHECK(minimum.values(0) <= 1.4);
  }
  problem.parameters[0].start = 1.5;
  problem.parameters[0].low = -10.0;
  problem.parameters[0].high = 10.0;
  options.candidates = 0;
  const Eigen::VectorXd none = Eigen::VectorXd::Zero(1);
  const double alone = solve_many(problem, none, {}, options).best.cost;
  const double helped =
      solve_many(problem, none, {Eigen::VectorXd::Constant(1, -2.5)}, options).best.cost;
  CHECK(helped < alone);
}
