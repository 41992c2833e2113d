// The certificate's JSON, to and from. Private to certificate.cpp.
#pragma once

#include <string>

#include "calibration/calibration.hpp"
#include "protocol/record/json_fields.hpp"

namespace calibration {

// All but the id.
protocol::Json content_json(const Calibration& calibration);

// The canonical text behind the id; whatever stands under "id" is left out.
std::string canonical_text(const protocol::Json& certificate);

// Reads every field, the id among them, without comparing it. ERRORS: input_malformed,
// input_unknown_key.
protocol::Result<Calibration> calibration_from_json(const protocol::Json& certificate,
                                                    const std::string& name);

}  // namespace calibration
