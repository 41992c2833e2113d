// Whether a curve passes through the means of repeated readings.
#pragma once

#include <optional>
#include <span>

#include "calibration/polynomial_fit.hpp"

namespace calibration {

// The residual sum of squares parted into what repeats explain (pure error), what only another
// curve could (lack of fit) and, where directions are told apart, what lies between the directions
// at one load; and the F test of the first two.
struct LackOfFit {
  double pure_error_sum_of_squares = 0.0;
  int pure_error_degrees_of_freedom = 0;
  double sum_of_squares = 0.0;  // of the lack of fit
  int degrees_of_freedom = 0;
  double F = 0.0;
  double probability = 1.0;  // of an F at least as large, were the curve true

  double replication_standard_deviation() const;
};

// Repeats are the readings at one x. Nothing where no x repeats, where the repeats agree to the
// last digits (the ratio has no meaning), or where the curve passes through every mean by
// construction.
std::optional<LackOfFit> compute_lack_of_fit(const PolynomialFit& fit, std::span<const double> x,
                                             std::span<const double> y);

// The same with the groups said: the curve is held against the mean of each load, the scatter is
// that within each cell. REQUIRES: each cell within one load; numbers from 0 on, none left out.
std::optional<LackOfFit> compute_lack_of_fit(const PolynomialFit& fit, std::span<const double> y,
                                             std::span<const int> loads,
                                             std::span<const int> cells);

}  // namespace calibration
