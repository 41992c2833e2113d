// The lower limit factor in the manner of ASTM E74: how small a force the cell still tells well.
//
// The deflection (reading less unloaded reading) is fitted as a polynomial of the load; the factor
// is 2.4 times the standard deviation about that curve, as a force, which about 99 % of readings
// keep, and never less than the step of the display. A force is told to 0.25 % (class A) from 400
// factors up, to 0.05 % (class AA) from 2000 factors up, and never below the smallest load that was
// put on.
#pragma once

#include "calibration/calibration.hpp"

namespace calibration {

struct LowerLimit {
  double standard_deviation_N = 0.0;
  double lower_limit_factor_N = 0.0;
  double class_a_from_N = 0.0;
  double class_aa_from_N = 0.0;
};

// REQUIRES: kind force.
LowerLimit lower_limit(const Calibration& calibration);

}  // namespace calibration
