// A record as the law follows it: turning points, and between them cells that stand for their
// samples.
//
// Near a reversal friction turns round within tenths of a millimetre, so cells are graded by the
// distance from it; uniform ones would bend the presliding travel. Where the transfer port may lie
// they stay small too. Elsewhere the force is so nearly straight over a cell that its mean loses
// nothing.
#pragma once

#include <vector>

#include "fitting/curve/strokes.hpp"
#include "protocol/record/sweep_record.hpp"

namespace fitting {

struct PathNode {
  double time_s = 0.0;
  double travel_m = 0.0;
  double force_N = 0.0;     // mean of the rows
  double scatter_N2 = 0.0;  // sum of squares about a line through the rows
  int rows = 0;             // 0: only a place to pass through
  bool counts = true;       // false: seen, but not fitted
  int direction = +1;
  int stroke = 0;
};

struct Path {
  std::vector<PathNode> nodes;
  bool has_time = false;
  double start_m = 0.0;
  double start_s = 0.0;
  double noise_N = 0.0;    // standard deviation of one sample, from the scatter within cells
  double speed_m_s = 0.0;  // mean, while moving
  double largest_travel_m = 0.0;
  double largest_force_N = 0.0;
  int strokes = 0;
  std::size_t samples = 0;
  double scatter_N2 = 0.0;  // of all cells together
};

// Travel of a start from rest that is not fitted: where friction points at rest is not known.
inline constexpr double kUnknownStart_m = 0.003;
// A pushed fork that has lifted off shows no more than this.
inline constexpr double kContact_N = 2.0;

protocol::Result<Path> make_path(const protocol::SweepRecord& record, double port_zone_m);

}  // namespace fitting
