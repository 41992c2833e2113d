#include "calibration/polynomial.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "protocol/error.hpp"

namespace calibration {
namespace {

// g' C g for g_i = g[i].
double quadratic_form(std::span<const double> covariance, std::span<const double> g) {
  ENSURE(covariance.size() == g.size() * g.size());
  double sum = 0.0;
  for (size_t row = 0; row < g.size(); ++row) {
    for (size_t column = 0; column < g.size(); ++column) {
      sum += g[row] * covariance[row * g.size() + column] * g[column];
    }
  }
  return std::max(0.0, sum);
}

std::vector<double> powers(double x, size_t count) {
  std::vector<double> result(count, 1.0);
  for (size_t i = 1; i < count; ++i) result[i] = result[i - 1] * x;
  return result;
}

size_t side_of(std::span<const double> covariance) {
  return static_cast<size_t>(std::lround(std::sqrt(static_cast<double>(covariance.size()))));
}

}  // namespace

double polynomial_value(std::span<const double> coefficients, double x) {
  double value = 0.0;
  for (size_t i = coefficients.size(); i-- > 0;) value = value * x + coefficients[i];
  return value;
}

double polynomial_slope(std::span<const double> coefficients, double x) {
  double slope = 0.0;
  for (size_t i = coefficients.size(); i-- > 1;) {
    slope = slope * x + static_cast<double>(i) * coefficients[i];
  }
  return slope;
}

double polynomial_variance(std::span<const double> covariance, double x) {
  return quadratic_form(covariance, powers(x, side_of(covariance)));
}

double polynomial_difference_variance(std::span<const double> covariance, double x, double x_0) {
  std::vector<double> g = powers(x, side_of(covariance));
  const std::vector<double> at_zero = powers(x_0, g.size());
  for (size_t i = 0; i < g.size(); ++i) g[i] -= at_zero[i];
  return quadratic_form(covariance, g);
}

}  // namespace calibration
