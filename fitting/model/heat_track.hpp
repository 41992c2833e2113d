// A path made ready for the heat kernel: what does not hang on the law's parameters, step by step,
// in arrays that fill the lanes.
#pragma once

#include <vector>

#include "fitting/model/path.hpp"

namespace fitting {

struct HeatTrack {
  // From the start's place: step k leads from place k - 1 to place k. A few more of each follow the
  // last, so that lanes may be filled.
  std::vector<double> travel_m;   // of the record
  std::vector<double> span_s;     // of step k
  std::vector<double> length_m;   // of step k, never negative
  std::vector<double> direction;  // +1, -1, 0 at rest
  std::vector<double> speed_m_s;  // signed
  int steps = 0;
  int earlier = 0;  // steps before the record, whose forces nobody asks for
  double largest_travel_m = 0.0;

  int nodes() const { return steps - earlier; }
};

HeatTrack make_heat_track(const Path& path, protocol::GasStart start);

}  // namespace fitting
