// Thins long curves for drawing: keeps the order of the path and each stretch's extremes, so that
// the outline, the turning points and the spikes of a loop stay where they are.
#pragma once

#include <cstddef>
#include <vector>

namespace fitting {

// Indices to keep, ascending, at most max_points of them, first and last included. The columns have
// equal length; of every stretch of rows the smallest and largest value of every column is kept,
// and one row that is not a number, since it marks a gap. REQUIRES: max_points >= 16 per column.
std::vector<std::size_t> kept_rows(const std::vector<const std::vector<double>*>& columns,
                                   std::size_t max_points);

}  // namespace fitting
