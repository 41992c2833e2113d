// Plain statistics of a few values.
#pragma once

#include <span>

namespace calibration {

// Of the largest magnitude, with its sign.
double largest_by_magnitude(std::span<const double> values);

// Without the loss of digits that one pass over sum and sum of squares has: the mean first, then
// what is left. REQUIRES: one value at least (two for the deviation).
double mean_of(std::span<const double> values);
double standard_deviation_of(std::span<const double> values);

}  // namespace calibration
