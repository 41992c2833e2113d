#include "fitting/curve/savitzky_golay.hpp"

#include <Eigen/QR>
#include <algorithm>
#include <cmath>

#include "protocol/error.hpp"

namespace fitting {

Eigen::VectorXd savitzky_golay_weights(const LocalPolynomial& fit) {
  ENSURE(fit.derivative >= 0 && fit.degree >= fit.derivative && fit.window > fit.degree);
  ENSURE(fit.at >= 0.0 && fit.at <= fit.window - 1.0);
  // Powers of the distance from the place of evaluation, scaled to the window so that high degrees
  // stay well conditioned: then the derivative there is one coefficient.
  const double scale = std::max(1.0, 0.5 * (fit.window - 1));
  Eigen::MatrixXd powers(fit.window, fit.degree + 1);
  for (int k = 0; k < fit.window; ++k) {
    double power = 1.0;
    for (int j = 0; j <= fit.degree; ++j) {
      powers(k, j) = power;
      power *= (k - fit.at) / scale;
    }
  }
  const Eigen::MatrixXd inverse =
      powers.colPivHouseholderQr().solve(Eigen::MatrixXd::Identity(fit.window, fit.window));
  double factor = 1.0;
  for (int j = 1; j <= fit.derivative; ++j) factor *= j / scale;
  return factor * inverse.row(fit.derivative).transpose();
}

Eigen::MatrixXd savitzky_golay_matrix(int samples, int window, int degree, int derivative,
                                      double spacing) {
  ENSURE(samples > derivative && spacing > 0.0);
  const int used = std::min(window, samples);
  const int fitted_degree = std::min(degree, used - 1);
  const int half = used / 2;
  const double per_spacing = 1.0 / std::pow(spacing, derivative);
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Zero(samples, samples);
  Eigen::VectorXd centre =
      savitzky_golay_weights({used, fitted_degree, derivative, static_cast<double>(half)});
  for (int i = 0; i < samples; ++i) {
    const int first = std::clamp(i - half, 0, samples - used);
    const Eigen::VectorXd weights = i - first == half
                                        ? centre
                                        : savitzky_golay_weights({used, fitted_degree, derivative,
                                                                  static_cast<double>(i - first)});
    matrix.row(i).segment(first, used) = per_spacing * weights.transpose();
  }
  return matrix;
}

}  // namespace fitting
