// Where a stroke stands still on its way, and how fast it goes where it does not.
//
// At a stop the gas loses its heat and the force relaxes: what is read there belongs to no curve of
// force against travel at a speed. The rows stay in the record, and the fit makes much of them.
#pragma once

#include <vector>

#include "fitting/curve/strokes.hpp"

namespace fitting {

struct StrokeMotion {
  double speed_m_s = 0.0;     // as moving_speed_m_s
  std::vector<bool> resting;  // by row from first_row to moving_end
};

// How fast a stroke goes where it moves; 0 without a clock.
double moving_speed_m_s(const protocol::SweepRecord& record, const Stroke& stroke);

StrokeMotion motion_of(const protocol::SweepRecord& record, const Stroke& stroke);

}  // namespace fitting
