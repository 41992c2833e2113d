// Readings -> calibration. Takes readings from wherever they come (a file, a rig, a test), checks
// that they can carry a calibration, chooses the degree of the curve, fits, and states what was
// assumed.
#pragma once

#include <optional>

#include "calibration/calibration.hpp"
#include "calibration/readings.hpp"

namespace calibration {

// degree: not given, it is chosen (degree_choice.hpp). A frame's curve passes through the origin:
// no force, no deflection. ERRORS: calibration_unusable (too few or repeated loads, a saturated
// reading, loads out of the stated order, a curve that is not monotonic), input_out_of_range
// (dates, gravity, air, a class of weights that is not known, degree).
protocol::Result<Calibration> make_calibration(const ReadingSet& set,
                                               std::optional<int> degree = std::nullopt);

// Sentences about standards whose own certificate had run out on the day of the calibration.
std::vector<std::string> expired_standards(const Particulars& particulars);

}  // namespace calibration
