// Least squares with a polynomial, with the covariance of its coefficients.
//
//   y_i = c_0 + c_1 x_i + ... + c_d x_i^d + e_i,   e_i independent, of one variance
//
// Solved by Householder QR on x that is centred and scaled to [-1, 1]: the normal equations on raw
// x lose the last five digits of an ordinary load-cell calibration. Through the origin (c_0 = 0) x
// is scaled only. Coefficients and covariance come back in powers of the raw x, since records and
// certificates speak of those.
#pragma once

#include <span>
#include <vector>

#include "calibration/polynomial.hpp"
#include "protocol/result.hpp"

namespace calibration {

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

}  // namespace calibration
