// Local polynomial weights against the published rows.
#include "fitting/curve/savitzky_golay.hpp"

#include <catch2/catch.hpp>

using namespace fitting;
using Catch::Matchers::WithinAbs;

namespace {

struct Row {
  int window;
  int degree;
  int derivative;
  double divisor;
  std::vector<double> weights;
};

// Source: [SavitzkyGolay1964] tables of convolution integers, with the corrections of
// [Steinier1972].
const std::vector<Row>& published_rows() {
  static const std::vector<Row> rows = {
      {5, 2, 0, 35, {-3, 12, 17, 12, -3}},
      {7, 2, 0, 21, {-2, 3, 6, 7, 6, 3, -2}},
      {9, 2, 0, 231, {-21, 14, 39, 54, 59, 54, 39, 14, -21}},
      {11, 2, 0, 429, {-36, 9, 44, 69, 84, 89, 84, 69, 44, 9, -36}},
      {5, 4, 0, 1, {0, 0, 1, 0, 0}},
      {7, 4, 0, 231, {5, -30, 75, 131, 75, -30, 5}},
      {9, 4, 0, 429, {15, -55, 30, 135, 179, 135, 30, -55, 15}},
      {11, 4, 0, 429, {18, -45, -10, 60, 120, 143, 120, 60, -10, -45, 18}},
      {5, 2, 1, 10, {-2, -1, 0, 1, 2}},
      {7, 2, 1, 28, {-3, -2, -1, 0, 1, 2, 3}},
      {9, 2, 1, 60, {-4, -3, -2, -1, 0, 1, 2, 3, 4}},
      {11, 2, 1, 110, {-5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5}},
      {5, 3, 1, 12, {1, -8, 0, 8, -1}},
      {7, 3, 1, 252, {22, -67, -58, 0, 58, 67, -22}},
      {9, 3, 1, 1188, {86, -142, -193, -126, 0, 126, 193, 142, -86}},
      {11, 3, 1, 5148, {300, -294, -532, -503, -296, 0, 296, 503, 532, 294, -300}},
      {5, 2, 2, 7, {2, -1, -2, -1, 2}},
      {7, 2, 2, 42, {5, 0, -3, -4, -3, 0, 5}},
      {9, 2, 2, 462, {28, 7, -8, -17, -20, -17, -8, 7, 28}},
      {11, 2, 2, 429, {15, 6, -1, -6, -9, -10, -9, -6, -1, 6, 15}},
  };
  return rows;
}

void check_weights(const Eigen::VectorXd& weights, const std::vector<double>& expected,
                   double divisor) {
  REQUIRE(weights.size() == static_cast<Eigen::Index>(expected.size()));
  for (std::size_t k = 0; k < expected.size(); ++k) {
    CAPTURE(k);
    // Because the rows are exact fractions: rounding of a small least-squares solve is all there
    // is.
    CHECK_THAT(weights(static_cast<Eigen::Index>(k)), WithinAbs(expected[k] / divisor, 1e-13));
  }
}

}  // namespace

TEST_CASE("savitzky_golay: weights are the published rows", "[fit][oracle]") {
  // Source: [SavitzkyGolay1964] smoothing, first and second derivative, 5 to 11 points.
  for (const Row& row : published_rows()) {
    CAPTURE(row.window, row.degree, row.derivative);
    const double centre = 0.5 * (row.window - 1);
    check_weights(savitzky_golay_weights({row.window, row.degree, row.derivative, centre}),
                  row.weights, row.divisor);
    // Smoothing and second derivatives are the same for an even degree and the next odd one; first
    // derivatives for an odd degree and the next even one.
    const bool paired = row.derivative == 1 ? row.degree % 2 == 1 : row.degree % 2 == 0;
    if (paired && row.degree + 1 < row.window) {
      check_weights(savitzky_golay_weights({row.window, row.degree + 1, row.derivative, centre}),
                    row.weights, row.divisor);
    }
  }
}

TEST_CASE("savitzky_golay: end weights of degree 2 are not those of degree 1", "[fit][oracle]") {
  // Source: [SavitzkyGolay1964] method, evaluated exactly at the newest of 5 samples. The row
  // (0.6, 0.4, 0.2, 0, -0.2), newest first, goes round labelled quadratic; it is the straight line.
  check_weights(savitzky_golay_weights({5, 1, 0, 4.0}), {-0.2, 0.0, 0.2, 0.4, 0.6}, 1.0);
  check_weights(savitzky_golay_weights({5, 2, 0, 4.0}), {3, -5, -3, 9, 31}, 35.0);
}

TEST_CASE("savitzky_golay: a polynomial of the fitted degree passes unchanged, ends included",
          "[fit][property]") {
  const double h = 0.25;
  const auto f = [](double x) { return 2.0 - 3.0 * x + 0.5 * x * x - 0.1 * x * x * x; };
  const auto slope = [](double x) { return -3.0 + x - 0.3 * x * x; };
  const int n = GENERATE(4, 6, 40);
  Eigen::VectorXd y(n);
  for (int i = 0; i < n; ++i) y(i) = f(i * h);
  const Eigen::VectorXd smooth = savitzky_golay_matrix(n, 9, 3, 0, h) * y;
  const Eigen::VectorXd rate = savitzky_golay_matrix(n, 9, 3, 1, h) * y;
  for (int i = 0; i < n; ++i) {
    CAPTURE(n, i);
    // Because values reach 100 and weights add up to about 1: a few hundred roundings.
    CHECK_THAT(smooth(i), WithinAbs(f(i * h), 1e-10));
    CHECK_THAT(rate(i), WithinAbs(slope(i * h), 1e-10));
  }
}

TEST_CASE("savitzky_golay: noise passes with the square root of the sum of squared weights",
          "[fit][oracle]") {
  // Source: [SavitzkyGolay1964] first derivative, 11 points, quadratic: (-5 .. 5) / 110, so the
  // variance is 110 / 110^2 of the noise's.
  const Eigen::VectorXd weights = savitzky_golay_weights({11, 2, 1, 5.0});
  // Because the sum is an exact fraction.
  CHECK_THAT(weights.squaredNorm(), WithinAbs(1.0 / 110.0, 1e-14));
}
