// The part of a model file that says how far the fit may be believed: what the data tell apart,
// where model and records disagree, what drawing strokes anew makes of it.
#pragma once

#include "fitting/model/fitted_model.hpp"
#include "protocol/record/json_fields.hpp"

namespace fitting {

protocol::Json diagnosis_to_json(const FittedModel& model);

// Null json: a file of before there was a diagnosis.
void read_diagnosis(const protocol::Json* json, FittedModel& model, protocol::JsonFields& parent);

}  // namespace fitting
