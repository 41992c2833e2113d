#include "calibration/polynomial_fit.hpp"

#include <fmt/format.h>

#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <set>

namespace calibration {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

// x = centre + scale * t with |t| <= 1.
struct Scaling {
  double centre = 0.0;
  double scale = 1.0;
};

Scaling scaling_of(std::span<const double> x, bool through_origin) {
  Scaling scaling;
  if (!through_origin) {
    double sum = 0.0;
    for (const double value : x) sum += value;
    scaling.centre = sum / static_cast<double>(x.size());
  }
  scaling.scale = 0.0;
  for (const double value : x) {
    scaling.scale = std::max(scaling.scale, std::abs(value - scaling.centre));
  }
  return scaling;
}

double binomial(int n, int k) {
  double result = 1.0;
  for (int i = 1; i <= k; ++i) result = result * (n - k + i) / i;
  return result;
}

// (degree + 1) x columns: raw coefficients = T * scaled coefficients, from expanding
// ((x - centre) / scale)^power.
Eigen::MatrixXd back_transform(const Scaling& scaling, int degree, int first_power) {
  Eigen::MatrixXd T = Eigen::MatrixXd::Zero(degree + 1, degree + 1 - first_power);
  for (int power = first_power; power <= degree; ++power) {
    for (int raw = 0; raw <= power; ++raw) {
      if (scaling.centre == 0.0 && raw != power) continue;
      T(raw, power - first_power) = binomial(power, raw) * std::pow(-scaling.centre, power - raw) /
                                    std::pow(scaling.scale, power);
    }
  }
  return T;
}

Result<void> check(std::span<const double> x, std::span<const double> y, int degree,
                   bool through_origin) {
  ENSURE(x.size() == y.size());
  ENSURE(degree >= 1 && degree <= kDegreeMax);
  for (size_t i = 0; i < x.size(); ++i) {
    if (!std::isfinite(x[i]) || !std::isfinite(y[i])) {
      return Error{Errc::calibration_unusable,
                   fmt::format("reading {} is not a finite number ({}, {}); leave it out.", i + 1,
                               x[i], y[i])};
    }
  }
  const size_t parameters = static_cast<size_t>(degree) + (through_origin ? 0 : 1);
  if (x.size() <= parameters) {
    return Error{
        Errc::calibration_unusable,
        fmt::format("{} readings cannot determine {} coefficients and their uncertainty; take at "
                    "least {}.",
                    x.size(), parameters, parameters + 1)};
  }
  std::set<double> different(x.begin(), x.end());
  if (through_origin) different.erase(0.0);
  if (different.size() < parameters) {
    return Error{Errc::calibration_unusable,
                 fmt::format("the readings lie at {} different values, which cannot determine {} "
                             "coefficients; spread them over the range.",
                             different.size(), parameters)};
  }
  return {};
}

std::vector<double> row_major(const Eigen::MatrixXd& matrix) {
  std::vector<double> values;
  for (Eigen::Index row = 0; row < matrix.rows(); ++row) {
    for (Eigen::Index column = 0; column < matrix.cols(); ++column) {
      values.push_back(matrix(row, column));
    }
  }
  return values;
}

}  // namespace

double PolynomialFit::coefficient_standard_uncertainty(int power) const {
  const auto i = static_cast<size_t>(power);
  return std::sqrt(covariance[i * coefficients.size() + i]);
}

double PolynomialFit::curve_standard_uncertainty(double x) const {
  return std::sqrt(polynomial_variance(covariance, x));
}

double PolynomialFit::prediction_standard_uncertainty(double x, int repeats) const {
  const double s = residual_standard_deviation;
  return std::sqrt(polynomial_variance(covariance, x) + s * s / repeats);
}

Result<PolynomialFit> fit_polynomial(std::span<const double> x, std::span<const double> y,
                                     int degree, bool through_origin) {
  if (const Result<void> usable = check(x, y, degree, through_origin); !usable) {
    return usable.error();
  }
  const Scaling scaling = scaling_of(x, through_origin);
  const int first_power = through_origin ? 1 : 0;
  const auto rows = static_cast<Eigen::Index>(x.size());
  const Eigen::Index columns = degree + 1 - first_power;
  Eigen::MatrixXd design(rows, columns);
  Eigen::VectorXd values(rows);
  for (Eigen::Index row = 0; row < rows; ++row) {
    const auto i = static_cast<size_t>(row);
    const double t = (x[i] - scaling.centre) / scaling.scale;
    double power = through_origin ? t : 1.0;
    for (Eigen::Index column = 0; column < columns; ++column) {
      design(row, column) = power;
      power *= t;
    }
    values(row) = y[i];
  }
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(design);
  const Eigen::VectorXd scaled = qr.solve(values);
  const Eigen::VectorXd residuals = values - design * scaled;

  PolynomialFit fit;
  fit.through_origin = through_origin;
  fit.residuals.assign(residuals.data(), residuals.data() + residuals.size());
  fit.residual_sum_of_squares = residuals.squaredNorm();
  fit.degrees_of_freedom = static_cast<int>(rows - columns);
  fit.residual_standard_deviation = std::sqrt(fit.residual_sum_of_squares / fit.degrees_of_freedom);

  // C = s^2 (R'R)^-1, carried to raw x by T.
  const Eigen::MatrixXd R = qr.matrixQR().topRows(columns).triangularView<Eigen::Upper>();
  const Eigen::MatrixXd R_inverse =
      R.triangularView<Eigen::Upper>().solve(Eigen::MatrixXd::Identity(columns, columns));
  const Eigen::MatrixXd T = back_transform(scaling, degree, first_power);
  const Eigen::VectorXd raw = T * scaled;
  const Eigen::MatrixXd root = fit.residual_standard_deviation * T * R_inverse;
  fit.coefficients.assign(raw.data(), raw.data() + raw.size());
  fit.covariance = row_major(root * root.transpose());
  return fit;
}

}  // namespace calibration
