// Least squares with a polynomial, and what a calibration asks of it: the covariance of its
// coefficients, lack of fit where readings repeat, and the way back from y to x with its limits.
//
//   y_i = c_0 + c_1 x_i + ... + c_d x_i^d + e_i,   e_i independent, of one variance
//
// Solved by Householder QR on x that is centred and scaled to [-1, 1]: the normal equations on raw
// x lose the last five digits of an ordinary load-cell calibration. Through the origin (c_0 = 0) x
// is scaled only. Coefficients and covariance come back in powers of the raw x, since records and
// certificates speak of those.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "protocol/result.hpp"

namespace calibration {

inline constexpr int kDegreeMax = 3;

// value = sum of coefficients[i] * x^i, by Horner's rule.
double polynomial_value(std::span<const double> coefficients, double x);
double polynomial_slope(std::span<const double> coefficients, double x);

// g' C g with g = (1, x, x^2, ...): the variance of the curve at x. C is row-major and square.
double polynomial_variance(std::span<const double> covariance, double x);

// Variance of the difference between the curve at x and at x_0: what is left in doubt of a reading
// whose zero was taken off.
double polynomial_difference_variance(std::span<const double> covariance, double x, double x_0);

struct PolynomialFit {
  bool through_origin = false;
  std::vector<double> coefficients;  // degree + 1 of them; the first is 0 through the origin
  std::vector<double> covariance;    // row-major, (degree + 1) square
  std::vector<double> residuals;     // y - fit, in the order of the readings
  double residual_sum_of_squares = 0.0;
  double residual_standard_deviation = 0.0;
  int degrees_of_freedom = 0;

  int degree() const { return static_cast<int>(coefficients.size()) - 1; }
  double value(double x) const { return polynomial_value(coefficients, x); }
  double coefficient_standard_uncertainty(int power) const;
  double curve_standard_uncertainty(double x) const;
  // Of the mean of `repeats` new readings at x.
  double prediction_standard_uncertainty(double x, int repeats = 1) const;
};

// ERRORS: calibration_unusable where there are not more readings than coefficients, too few
// different x, or a reading that is not finite. REQUIRES: x and y of one length, degree 1 to
// kDegreeMax.
protocol::Result<PolynomialFit> fit_polynomial(std::span<const double> x, std::span<const double> y,
                                               int degree, bool through_origin = false);

// The residual sum of squares parted into what repeats at one x explain (pure error) and what only
// another curve could (lack of fit), and the F test of the two.
struct LackOfFit {
  double pure_error_sum_of_squares = 0.0;
  int pure_error_degrees_of_freedom = 0;
  double sum_of_squares = 0.0;  // of the lack of fit
  int degrees_of_freedom = 0;
  double F = 0.0;
  double probability = 1.0;  // of an F at least as large, were the curve true

  double replication_standard_deviation() const;
};

// Nothing where no x repeats, where the repeats agree to the last digit (the ratio has no meaning),
// or where the curve passes through every mean by construction.
std::optional<LackOfFit> compute_lack_of_fit(const PolynomialFit& fit, std::span<const double> x,
                                             std::span<const double> y);

// The x that a new reading of y belongs to.
struct InversePrediction {
  double x = 0.0;
  double standard_uncertainty = 0.0;
  double low_95 = 0.0;  // where the prediction band of the curve meets y
  double high_95 = 0.0;
};

// y is the mean of `repeats` new readings; the root is looked for near the range x_low..x_high.
// ERRORS: calibration_unusable where the curve does not reach y there.
protocol::Result<InversePrediction> predict_inverse(const PolynomialFit& fit, double y, int repeats,
                                                    double x_low, double x_high);

}  // namespace calibration
