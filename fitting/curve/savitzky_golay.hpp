// Local polynomials by least squares over a moving window (Savitzky and Golay 1964): smoothing and
// derivatives of an evenly spaced curve.
//
// The value (or derivative) of the fitted polynomial is a fixed weighted sum of the samples:
//   f^(s)(at) = sum over k of weight_k y_k / h^s,  k = 0 .. window-1, h the sample spacing,
// so its variance follows from the samples' covariance by the same weights. At an end of the data
// the window stops and the polynomial is evaluated off its centre: no sample is invented there.
#pragma once

#include <Eigen/Core>
#include <vector>

namespace fitting {

// One window's fit. REQUIRES: window > degree >= derivative >= 0, and 0 <= at <= window - 1.
struct LocalPolynomial {
  int window = 5;  // samples; odd windows have a sample at their centre
  int degree = 2;
  int derivative = 0;
  double at = 2.0;  // place of evaluation, in samples from the first of the window
};

// Weights in the order of the samples, for unit spacing.
Eigen::VectorXd savitzky_golay_weights(const LocalPolynomial& fit);

// A whole evenly spaced curve filtered: rows are results, columns are samples (N x N, banded), so
// that a covariance C becomes M C M^T. spacing divides derivatives. A curve shorter than the window
// uses all its samples, with the degree lowered to fit.
Eigen::MatrixXd savitzky_golay_matrix(int samples, int window, int degree, int derivative,
                                      double spacing);

}  // namespace fitting
