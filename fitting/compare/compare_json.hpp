// A comparison as JSON, as the compare command answers.
//
//   {"crossovers": [{"travel_mm", "standard_uncertainty_mm", ...}],
//    "spans": [{"from_mm", "to_mm", "firmer": "a|b|neither", "mean_difference_N",
//               "standard_uncertainty_N"}],
//    "thirds": [as spans],
//    "matched_sag": {"load_N", "load_source", "matched", "a", "b", "crossovers", "spans",
//    "thirds"}, "nearest_setting", "elements", "difference", "a", "b", "sentences", "remarks"}
//
// Differences are A - B. Fields are only ever added.
#pragma once

#include <nlohmann/json.hpp>

#include "fitting/compare/comparison.hpp"

namespace fitting {

nlohmann::ordered_json compare_json(const Comparison& comparison);

}  // namespace fitting
