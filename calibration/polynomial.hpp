// A polynomial by its coefficients, and what their covariance leaves in doubt.
#pragma once

#include <span>

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

}  // namespace calibration
