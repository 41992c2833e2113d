// A record's loop and quantities as JSON, as the curve command answers.
//
//   {"curves": [{"record", "fork", "speed_mm_s", "quantities": {NAME: {"value",
//     "standard_uncertainty", "note"}}, "strokes": [...], "travel_mm": [...], "compression_N":
//     [...], "rebound_N", "midline_N", "midline_standard_uncertainty_N", "half_loop_N",
//     "half_loop_standard_uncertainty_N", "valid", "speed_dependent", "rate_travel_mm",
//     "rate_N_per_mm", "rate_standard_uncertainty_N_per_mm", "remarks"}]}
//
// All arrays over travel_mm have its length; what was not measured is null.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "fitting/curve/quantities.hpp"

namespace fitting {

struct CurveAnswer {
  std::string name;  // what the user called the record
  protocol::Metadata metadata;
  Loop loop;
  Curve midline;
  std::vector<Quantity> quantities;
};

// ERRORS: record_unusable as make_loop and midline_curve.
protocol::Result<CurveAnswer> answer_curve(const std::string& name,
                                           const protocol::SweepRecord& record,
                                           const LoopOptions& loop_options = {},
                                           const QuantityOptions& quantity_options = {});

nlohmann::ordered_json curve_json(const std::vector<CurveAnswer>& answers);

nlohmann::ordered_json quantities_json(const std::vector<Quantity>& quantities);

}  // namespace fitting
