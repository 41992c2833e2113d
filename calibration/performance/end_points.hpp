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

}  // namespace calibration
