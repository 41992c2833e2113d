// A fitted model as one JSON document: the answer of `fit` and the file that `predict` and
// `compare` read. Its grammar is model.schema.json beside this file.
#pragma once

#include <string>

#include "fitting/model/fitted_model.hpp"
#include "protocol/record/json_fields.hpp"

namespace fitting {

// Raised when a file of the new form cannot be read by an older program.
inline constexpr int kModelFormatVersion = 1;

protocol::Json model_document(const FittedModel& model);

// `name` stands for the file in messages. ERRORS: input_malformed, input_unknown_key,
// input_out_of_range.
protocol::Result<FittedModel> parse_model(const std::string& text,
                                          const std::string& name = "model");

// "wall_coefficient", "constant_time", "exponent".
std::string gas_law_name(GasLaw law);
// "fitted", "given", "not_determined", "at_bound".
std::string status_name(ParameterStatus status);

}  // namespace fitting
