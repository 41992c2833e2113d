// Whether a curve passes through the means of repeated readings.
#pragma once

#include <optional>
#include <span>

#include "calibration/polynomial_fit.hpp"

namespace calibration {

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

}  // namespace calibration
