// A fork as JSON, inside the metadata of a record and inside a model. SI, the unit in each key.
#pragma once

#include "protocol/record/fork.hpp"
#include "protocol/record/json_fields.hpp"

namespace protocol {

Json fork_to_json(const Fork& fork);

// `place` names the object in messages ("larch.json: fork"). ERRORS: input_malformed,
// input_unknown_key, input_out_of_range.
Result<Fork> fork_from_json(const Json& json, const std::string& place);

}  // namespace protocol
