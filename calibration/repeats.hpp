// Which readings repeat each other: those at one load, and those at one load in one direction.
#pragma once

#include <map>
#include <span>
#include <vector>

#include "calibration/readings.hpp"

namespace calibration {

// Loads closer than this part of the range are one load. A reference transducer or a dial never
// stands at the same value twice; the curve itself accounts for the small way between them.
inline constexpr double kSameLoadRelative = 0.005;

struct Repeats {
  std::vector<int> loads;  // for each reading, which load it belongs to: 0, 1, ... ascending
  int load_count = 0;
  // For each reading, which repeats it belongs to: one load in one direction. A cell that reads
  // more coming down than going up does so every time, which is no scatter; counted as scatter it
  // would hide that a curve misses the loads. Where nothing repeats in its own direction, up and
  // down are taken for repeats of each other: all that one series can show.
  std::vector<int> cells;
  int cell_count = 0;

  bool any() const { return cell_count < static_cast<int>(cells.size()); }
};

// REQUIRES: every direction settled, every reference finite.
Repeats find_repeats(std::span<const Reading> readings);

// `off` is what each reading is off the curve. REQUIRES: one for each reading.
// Its mean at each load that was reached in this direction.
std::map<int, double> mean_by_load(std::span<const Reading> readings, const Repeats& repeats,
                                   std::span<const double> off, Direction direction);
// The mean coming down less the mean going up, at each load that was reached both ways.
std::vector<double> down_less_up(std::span<const Reading> readings, const Repeats& repeats,
                                 std::span<const double> off);

}  // namespace calibration
