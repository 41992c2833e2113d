// Calibrations of the virtual rig's load cell by the hundred, each then asked about one force that
// is known: how often is it within the interval that the calibration states?
#pragma once

#include <cstdint>

#include "controller/virtual_rig/plant_file.hpp"

namespace benchmarks {

struct CoverageSetting {
  controller::virtual_rig::LoadCellData cell;
  double room_K = 293.15;
  int calibrations = 2000;
  uint64_t seed = 1;
  double interval_scale = 1.0;  // 0.5: the stated intervals halved, which must show
};

struct Coverage {
  int calibrations = 0;
  int covered = 0;
  double mean_expanded_N = 0.0;
  double mean_error_N = 0.0;
  double largest_error_N = 0.0;
  double percent() const { return 100.0 * covered / calibrations; }
};

// Each calibration: a reference transducer that is off by as much as its certificate allows, three
// series up to 2500 N and down again in a room that does not keep its temperature, the degree of
// the curve chosen from the readings. Then, in a room that is a little warmer or colder: the zero,
// and one force anywhere in the range, reached going up or coming down.
Coverage run_coverage(const CoverageSetting& setting);

}  // namespace benchmarks
