// Strokes of one direction brought to a common travel grid and averaged.
#pragma once

#include <cstddef>
#include <limits>
#include <vector>

#include "fitting/curve/loop.hpp"

namespace fitting {

inline constexpr double kNotMeasured = std::numeric_limits<double>::quiet_NaN();

// Grid points are at (first_index + i) * step_m, so that all records share their places.
struct Grid {
  long first_index = 0;
  std::size_t size = 0;
  double step_m = 0.0005;

  double travel_m(std::size_t i) const {
    return static_cast<double>(first_index + static_cast<long>(i)) * step_m;
  }
};

// One stroke on the grid: a straight line through the rows of each cell where there are at least
// three, else between the neighbours on both sides.
struct SampledStroke {
  std::vector<double> force_N;  // NaN where the stroke does not reach
  std::vector<double> noise_N;  // standard uncertainty of each value from noise alone
};
SampledStroke sample_stroke(const protocol::SweepRecord& record, const Stroke& stroke,
                            double travel_shift_m, const Grid& grid);

// Standard deviation of a single force reading, from each row's distance to the line between its
// neighbours on the path.
double force_noise_N(const protocol::SweepRecord& record, const Stroke& stroke);

struct Averaged {
  Branch branch;
  double variance_sum_N2 = 0.0;  // between the cycles, added up over the grid
  std::size_t variance_points = 0;
  double scatter_length_m = 0.0;  // 0: not to be told
};
Averaged average_strokes(const std::vector<SampledStroke>& strokes, const Grid& grid);

}  // namespace fitting
