// A calibration as an answer: for reading, and as JSON.
#pragma once

#include <string>

#include "calibration/calibration.hpp"
#include "protocol/record/json_fields.hpp"

namespace controller::cli {

std::string calibration_text(const calibration::Calibration& calibration);

protocol::Json calibration_json(const calibration::Calibration& calibration,
                                const std::string& file);

}  // namespace controller::cli
