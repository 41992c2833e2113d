// Profiles held to problems whose answer is known, and resampling held to the covariance.
#include "fitting/solve/profile.hpp"

#include <Eigen/Dense>
#include <catch2/catch.hpp>
#include <random>

#include "fitting/solve/bootstrap.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;

namespace {

// y = a + b x, rows of unit deviation, in strokes of a few rows.
class Line final : public Evidence {
 public:
  Line(int rows, int per_stroke, unsigned seed) : per_stroke_(per_stroke) {
    std::mt19937_64 engine(seed);
    std::normal_distribution<double> noise;
    for (int i = 0; i < rows; ++i) {
      x_.push_back(-1.0 + 2.0 * (i % per_stroke) / (per_stroke - 1));
      y_.push_back(2.0 + 3.0 * x_.back() + noise(engine));
    }
  }
  int rows() const override { return static_cast<int>(x_.size()); }
  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override {
    for (int i = 0; i < rows(); ++i) {
      const auto at = static_cast<std::size_t>(i);
      residuals(i) = values(0) + values(1) * x_[at] - y_[at];
      if (jacobian != nullptr) {
        jacobian->row(i).setZero();
        (*jacobian)(i, 0) = 1.0;
        (*jacobian)(i, 1) = x_[at];
      }
    }
    return true;
  }
  bool condense_by_stroke(const Eigen::VectorXd& values,
                          std::vector<NormalEquations>& out) const override {
    Eigen::VectorXd residuals(rows());
    RowMatrix jacobian = RowMatrix::Zero(rows(), values.size());
    evaluate(values, residuals, &jacobian);
    out.clear();
    for (int first = 0; first < rows(); first += per_stroke_) {
      NormalEquations part;
      const RowMatrix own = jacobian.middleRows(first, per_stroke_);
      part.square = own.transpose() * own;
      part.gradient = own.transpose() * residuals.segment(first, per_stroke_);
      out.push_back(part);
    }
    return true;
  }

 private:
  std::vector<double> x_;
  std::vector<double> y_;
  int per_stroke_;
};

// Only the square of the first parameter acts: the data bound it, but not by a parabola.
class Squared final : public Evidence {
 public:
  int rows() const override { return 1; }
  bool evaluate(const Eigen::VectorXd& values, Eigen::Ref<Eigen::VectorXd> residuals,
                RowMatrix* jacobian) const override {
    residuals(0) = values(0) * values(0) - 1.0;
    if (jacobian != nullptr) (*jacobian)(0, 0) = 2.0 * values(0);
    return true;
  }
};

Problem problem_of(const Evidence& evidence, int parameters) {
  Problem out;
  for (int i = 0; i < parameters; ++i) out.parameters.push_back({"p" + std::to_string(i)});
  out.evidence.push_back(&evidence);
  return out;
}

}  // namespace

TEST_CASE("profile: of a straight line it is the covariance's interval", "[fit]") {
  const Line line(40, 10, 3);
  const Problem problem = problem_of(line, 2);
  const Solution solution = solve(problem);
  const double deviation = 1.0 / std::sqrt(40.0);
  const ProfileEnds ends = profile(problem, solution.values, 0, deviation, {});
  REQUIRE(ends.low);
  REQUIRE(ends.high);
  // 1.959964 deviations either way; the search ends within 1 % of the root of the rise.
  CHECK_THAT(solution.values(0) - *ends.low, WithinRel(1.959964 * deviation, 0.012));
  CHECK_THAT(*ends.high - solution.values(0), WithinRel(1.959964 * deviation, 0.012));
}

TEST_CASE("profile: where the misfit is no parabola the ends are where it says", "[fit]") {
  const Squared squared;
  Problem problem = problem_of(squared, 1);
  problem.parameters[0].start = 1.2;
  const Solution solution = solve(problem);
  REQUIRE_THAT(solution.values(0), WithinRel(1.0, 1e-6));
  // Linearised, the deviation is 1/2.
  const ProfileEnds ends = profile(problem, solution.values, 0, 0.5, {});
  // (p^2 - 1)^2 = 3.841459 at p = sqrt(1 + 1.959964); below, p^2 = 1 - 1.96 does not exist.
  REQUIRE(ends.high);
  CHECK_THAT(*ends.high, WithinRel(std::sqrt(2.959964), 0.01));
}

TEST_CASE("profile: what the data do not bound has an open end", "[fit]") {
  const Line line(40, 10, 3);
  Problem problem = problem_of(line, 2);
  problem.parameters[0].low = 1.9;
  const Solution solution = solve(problem);
  REQUIRE(solution.values(0) > 1.9);
  const ProfileEnds ends = profile(problem, solution.values, 0, 1.0 / std::sqrt(40.0), {});
  CHECK_FALSE(ends.low);
  CHECK(ends.high);
}

TEST_CASE("bootstrap: independent noise gives back the covariance", "[fit]") {
  const Line line(4000, 10, 5);
  const Problem problem = problem_of(line, 2);
  const Solution solution = solve(problem);
  const Bootstrap drawn = bootstrap(problem, solution.values, {.replicates = 2000});
  CHECK(drawn.refused.empty());
  CHECK(drawn.strokes == 400);
  CHECK(drawn.failed == 0);
  // Standard deviations from 2,000 draws of 400 strokes: 2 % by chance, and 3 % of the noise's own.
  CHECK_THAT(std::sqrt(drawn.covariance(0, 0)), WithinRel(1.0 / std::sqrt(4000.0), 0.12));
}

TEST_CASE("bootstrap: threads do not matter, and few strokes are refused", "[fit]") {
  const Line line(100, 10, 6);
  const Problem problem = problem_of(line, 2);
  const Solution solution = solve(problem);
  const Bootstrap one = bootstrap(problem, solution.values, {.replicates = 50, .threads = 1});
  const Bootstrap two = bootstrap(problem, solution.values, {.replicates = 50, .threads = 2});
  CHECK(one.covariance == two.covariance);
  const Line few(70, 10, 6);
  const Problem short_problem = problem_of(few, 2);
  CHECK_THAT(bootstrap(short_problem, solve(short_problem).values, {}).refused,
             Contains("7 strokes are too few"));
}
