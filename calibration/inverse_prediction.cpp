#include "calibration/inverse_prediction.hpp"

#include <fmt/format.h>

#include <cmath>
#include <optional>

#include "calibration/distributions.hpp"

namespace calibration {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

// The x near `start` where value(x) + factor * (its prediction uncertainty) meets y.
std::optional<double> meet(const PolynomialFit& fit, double y, double factor, int repeats,
                           double start) {
  constexpr int kStepsMax = 100;
  double x = start;
  for (int i = 0; i < kStepsMax; ++i) {
    const double slope = polynomial_slope(fit.coefficients, x);
    const double offset =
        factor == 0.0 ? 0.0 : factor * fit.prediction_standard_uncertainty(x, repeats);
    const double step = (y - fit.value(x) - offset) / slope;
    if (!std::isfinite(step)) return std::nullopt;
    x += step;
    if (std::abs(step) <= 1e-13 * (std::abs(x) + std::abs(start))) return x;
  }
  return std::nullopt;
}

}  // namespace

Result<InversePrediction> predict_inverse(const PolynomialFit& fit, double y, int repeats,
                                          double x_low, double x_high) {
  ENSURE(repeats >= 1 && x_low < x_high);
  const double middle = 0.5 * (x_low + x_high);
  const std::optional<double> root = meet(fit, y, 0.0, repeats, middle);
  const double t = student_factor(0.95, fit.degrees_of_freedom);
  const double direction = polynomial_slope(fit.coefficients, middle) > 0.0 ? 1.0 : -1.0;
  const std::optional<double> low = root ? meet(fit, y, direction * t, repeats, *root) : root;
  const std::optional<double> high = root ? meet(fit, y, -direction * t, repeats, *root) : root;
  if (!low || !high) {
    return Error{Errc::calibration_unusable,
                 fmt::format("the curve does not reach {} near {} to {}; take a lower degree, or "
                             "readings over a wider range.",
                             y, x_low, x_high)};
  }
  InversePrediction result;
  result.x = *root;
  result.standard_uncertainty = fit.prediction_standard_uncertainty(*root, repeats) /
                                std::abs(polynomial_slope(fit.coefficients, *root));
  result.low_95 = *low;
  result.high_95 = *high;
  return result;
}

}  // namespace calibration
