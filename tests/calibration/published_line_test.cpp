// Straight lines with published answers, through our own fit.
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "calibration/distributions.hpp"
#include "calibration/inverse_prediction.hpp"
#include "calibration/polynomial_fit.hpp"

namespace {

using calibration::PolynomialFit;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

constexpr double kCertified = 1e-10;  // because the digits are certified, and QR keeps them

TEST_CASE("polynomial fit: Norris, two instruments against each other", "[calibration][oracle]") {
  // Source: [NIST-Norris] certified coefficients, standard deviations, residual sum of squares.
  const std::vector<double> x = {0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                                 777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                                 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                                 887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
  const std::vector<double> y = {0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                                 778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                                 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                                 888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};
  const PolynomialFit fit = calibration::fit_polynomial(x, y, 1).value();
  CHECK_THAT(fit.coefficients[0], WithinRel(-0.262323073774029, kCertified));
  CHECK_THAT(fit.coefficients[1], WithinRel(1.00211681802045, kCertified));
  CHECK_THAT(fit.coefficient_standard_uncertainty(0), WithinRel(0.232818234301152, kCertified));
  CHECK_THAT(fit.coefficient_standard_uncertainty(1), WithinRel(0.429796848199937E-03, kCertified));
  CHECK_THAT(fit.residual_sum_of_squares, WithinRel(26.6173985294224, kCertified));
  // Source: [NIST-Norris] covariance of the two, as the GNU Scientific Library tests it.
  CHECK_THAT(fit.covariance[1], WithinRel(-7.74327536339570e-05, kCertified));
}

TEST_CASE("polynomial fit: NoInt1, a line through the origin", "[calibration][oracle]") {
  // Source: [NIST-NoInt1] certified slope and its standard deviation.
  std::vector<double> x;
  std::vector<double> y;
  for (int i = 0; i <= 10; ++i) {
    x.push_back(60.0 + i);
    y.push_back(130.0 + i);
  }
  const PolynomialFit fit = calibration::fit_polynomial(x, y, 1, true).value();
  CHECK(fit.coefficients[0] == 0.0);
  CHECK(fit.coefficient_standard_uncertainty(0) == 0.0);
  CHECK_THAT(fit.coefficients[1], WithinRel(2.07438016528926, kCertified));
  CHECK_THAT(fit.coefficient_standard_uncertainty(1), WithinRel(0.165289256198347E-01, kCertified));
  CHECK(fit.degrees_of_freedom == 10);
}

TEST_CASE("polynomial fit: Natrella, Young's modulus against temperature",
          "[calibration][oracle]") {
  // Source: [Natrella] 5-4.1: slope, intercept, variances, s, and the standard errors of the mean
  // at 1200 and of a new value at 750.
  std::vector<double> x = {30.0};
  for (int i = 1; i <= 15; ++i) x.push_back(100.0 * i);
  const std::vector<double> y = {4642, 4612, 4565, 4513, 4476, 4433, 4389, 4347,
                                 4303, 4251, 4201, 4140, 4100, 4073, 4024, 3999};
  const PolynomialFit fit = calibration::fit_polynomial(x, y, 1).value();
  CHECK_THAT(fit.coefficients[1], WithinAbs(-0.44985482, 6e-9));  // because eight digits are given
  CHECK_THAT(fit.coefficients[0], WithinAbs(4654.9846, 6e-5));    // the last digit printed
  CHECK_THAT(fit.covariance[3], WithinAbs(0.000025649045, 6e-13));
  // Exact arithmetic on the data gives 19.8794530321: the print is off by one in its last digit.
  CHECK_THAT(fit.covariance[0], WithinAbs(19.879452, 1.1e-6));
  CHECK_THAT(fit.covariance[0], WithinRel(19.879453032050378, kCertified));
  CHECK_THAT(fit.residual_standard_deviation, WithinAbs(9.277617, 1e-6));
  CHECK_THAT(std::pow(fit.curve_standard_uncertainty(1200.0), 2), WithinAbs(10.53, 6e-3));
  CHECK_THAT(std::pow(fit.prediction_standard_uncertainty(750.0), 2), WithinAbs(91.45, 6e-3));
}

TEST_CASE("polynomial fit: a thermometer's corrections", "[calibration][oracle]") {
  // Source: [GUM] H.3: y1, y2, their uncertainties, correlation, s, and the correction at 30 degC.
  const std::vector<double> t = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                 24.513, 25.002, 25.503, 26.010, 26.511};
  const std::vector<double> b = {-.171, -.169, -.166, -.159, -.164, -.165,
                                 -.156, -.157, -.159, -.161, -.160};
  std::vector<double> from_20;
  for (const double temperature : t) from_20.push_back(temperature - 20.0);
  const PolynomialFit fit = calibration::fit_polynomial(from_20, b, 1).value();
  const double u_1 = fit.coefficient_standard_uncertainty(0);
  const double u_2 = fit.coefficient_standard_uncertainty(1);
  CHECK_THAT(fit.coefficients[0], WithinAbs(-0.1712, 5e-5));  // half of the last digit printed
  CHECK_THAT(u_1, WithinAbs(0.0029, 5e-5));
  CHECK_THAT(fit.coefficients[1], WithinAbs(0.00218, 5e-6));
  CHECK_THAT(u_2, WithinAbs(0.00067, 5e-6));
  CHECK_THAT(fit.covariance[1] / (u_1 * u_2), WithinAbs(-0.930, 5e-4));
  CHECK_THAT(fit.residual_standard_deviation, WithinAbs(0.0035, 5e-5));
  CHECK_THAT(fit.value(10.0), WithinAbs(-0.1494, 5e-5));
  CHECK_THAT(fit.curve_standard_uncertainty(10.0), WithinAbs(0.0041, 5e-5));
  CHECK(fit.degrees_of_freedom == 9);
  // Source: [GUM] H.3 data; more digits recomputed with mpmath.
  CHECK_THAT(fit.coefficients[0], WithinRel(-0.171203790131, 1e-10));
  CHECK_THAT(u_2, WithinRel(0.000667938773228, 1e-10));
  CHECK_THAT(fit.curve_standard_uncertainty(10.0), WithinRel(0.00413859575285, 1e-10));
}

TEST_CASE("inverse prediction: cadmium from its absorbance", "[calibration][oracle]") {
  // Source: [Eurachem-A5] line and the sample from two readings: 0.260, u 0.018.
  std::vector<double> x;
  for (const double level : {0.1, 0.3, 0.5, 0.7, 0.9}) x.insert(x.end(), 3, level);
  const std::vector<double> y = {.028, .029, .029, .084, .083, .081, .135, .131,
                                 .133, .180, .181, .183, .215, .230, .216};
  const PolynomialFit fit = calibration::fit_polynomial(x, y, 1).value();
  CHECK_THAT(fit.coefficients[0], WithinAbs(0.0087, 5e-5));  // half of the last digit printed
  CHECK_THAT(fit.coefficient_standard_uncertainty(0), WithinAbs(0.0029, 5e-5));
  CHECK_THAT(fit.coefficients[1], WithinAbs(0.2410, 5e-5));
  CHECK_THAT(fit.coefficient_standard_uncertainty(1), WithinAbs(0.0050, 5e-5));
  const calibration::InversePrediction sample =
      calibration::predict_inverse(fit, 0.5 * (.0712 + .0716), 2, 0.1, 0.9).value();
  CHECK_THAT(sample.x, WithinAbs(0.260, 5e-4));
  CHECK_THAT(sample.standard_uncertainty, WithinAbs(0.018, 5e-4));
  // Source: [Eurachem-A5] data; more digits recomputed.
  CHECK_THAT(fit.residual_standard_deviation, WithinRel(0.005485645604, 1e-9));
  CHECK_THAT(sample.x, WithinRel(0.2601659751, 1e-9));
  CHECK_THAT(sample.standard_uncertainty, WithinRel(0.01784461113, 1e-9));
}

TEST_CASE("polynomial fit: readings up and down, with hysteresis", "[calibration][oracle]") {
  // Source: [Up-Down] slope, intercept, s, s(slope). Its s(intercept) of 0.0689 is a misprint: the
  // term 1/n was divided as integers. The right value, recomputed, is 0.0814788892955.
  std::vector<double> x;
  for (int pass = 0; pass < 2; ++pass) {
    for (int i = 0; i <= 10; ++i) x.push_back(i);
  }
  const std::vector<double> y = {-1.12, .21, 1.18, 2.09, 3.33, 4.50, 5.26, 6.59, 7.73, 8.68, 9.88,
                                 -.69,  .42, 1.65, 2.48, 3.62, 4.71, 5.87, 6.86, 7.92, 9.10, 10.20};
  const PolynomialFit fit = calibration::fit_polynomial(x, y, 1).value();
  CHECK_THAT(fit.coefficients[1], WithinAbs(1.0839, 5e-5));  // half of the last digit printed
  CHECK_THAT(fit.coefficients[0], WithinAbs(-0.8525, 5e-5));
  CHECK_THAT(fit.residual_standard_deviation, WithinAbs(0.2043, 5e-5));
  CHECK_THAT(fit.coefficient_standard_uncertainty(1), WithinAbs(0.0138, 5e-5));
  CHECK_THAT(fit.coefficient_standard_uncertainty(0), WithinRel(0.0814788892955, 1e-10));
  CHECK(std::abs(fit.coefficient_standard_uncertainty(0) - 0.0689) > 0.01);
  CHECK_THAT(calibration::predict_inverse(fit, 4.32, 1, 0.0, 10.0).value().x,
             WithinAbs(4.7723, 5e-5));
}

TEST_CASE("distributions: Student's factors", "[calibration][oracle]") {
  // Source: [GUM] Table G.2, 95 % and 99 %.
  CHECK_THAT(calibration::student_factor(0.95, 1), WithinAbs(12.71, 5e-3));  // two decimals printed
  CHECK_THAT(calibration::student_factor(0.95, 10), WithinAbs(2.23, 5e-3));
  CHECK_THAT(calibration::student_factor(0.95, 19), WithinAbs(2.09, 5e-3));
  CHECK_THAT(calibration::student_factor(0.99, 5), WithinAbs(4.03, 5e-3));
  CHECK_THAT(calibration::student_factor(0.99, 8), WithinAbs(3.36, 6e-3));
  // Source: [GUM] G.2; recomputed with SciPy: t of 97.5 % at 37 degrees of freedom.
  CHECK_THAT(calibration::student_factor(0.95, 37), WithinRel(2.02619246303, 1e-10));
}

}  // namespace
