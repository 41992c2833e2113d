// Readings -> calibration. Takes readings from wherever they come (a file, a rig, a test), checks
// that they can carry a calibration, fits, and states what was assumed.
#pragma once

#include "calibration/calibration.hpp"
#include "calibration/readings.hpp"

namespace calibration {

// degree: of force and travel; the frame is a line through the origin (no force, no deflection)
// whatever it says.
// ERRORS: calibration_unusable (too few or repeated loads, a saturated reading, loads out of the
// stated order, a curve that is not monotonic), input_out_of_range (dates, gravity, degree).
protocol::Result<Calibration> make_calibration(const ReadingSet& set, int degree = 1);

}  // namespace calibration
