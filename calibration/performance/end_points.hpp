// Linearity by end points: how far a curve of readings leaves the straight line between its first
// and its last.
#pragma once

#include <span>
#include <vector>

namespace calibration {

// The line's value at each reading less the value itself, in the unit of the values; 0 at both
// ends. REQUIRES: readings and values of one length, two at least, and the end readings different.
std::vector<double> end_point_deviations(std::span<const double> readings,
                                         std::span<const double> values);

// Of the largest magnitude, with its sign.
double largest_by_magnitude(std::span<const double> values);

// Without the loss of digits that one pass over sum and sum of squares has: the mean first, then
// what is left. REQUIRES: one value at least (two for the deviation).
double mean_of(std::span<const double> values);
double standard_deviation_of(std::span<const double> values);

}  // namespace calibration
