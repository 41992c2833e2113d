// What a certificate says beyond its equation: the instrument's performance and the uncertainty
// budget, as JSON for whoever reads the file. All of it follows from the readings, so nothing of it
// is read back.
#pragma once

#include "calibration/calibration.hpp"
#include "protocol/record/json_fields.hpp"

namespace calibration {

// {"performance": {...}, "budget": [...]}: of force the errors of ISO 7500-1 with the limits met
// and the lower limit in the manner of ASTM E74, of travel scale, linearity and backlash; the
// budget at six values of the range.
protocol::Json derived_json(const Calibration& calibration);

}  // namespace calibration
