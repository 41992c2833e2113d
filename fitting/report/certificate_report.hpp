// A calibration as a page: who calibrated what with which standards, the equation with its doubt,
// what the instrument does beside it, the uncertainty budget, and what the page does not claim.
//
// Everything on it follows from the calibration; nothing is added by whoever prints it.
#pragma once

#include <string>

#include "calibration/calibration.hpp"
#include "fitting/report/section.hpp"

namespace fitting {

// `program` for the foot of the page, such as "springwright 0.2".
Report certificate_report(const calibration::Calibration& calibration,
                          const std::string& program = "springwright");

}  // namespace fitting
