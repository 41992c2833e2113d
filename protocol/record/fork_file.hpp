// Fork files: what the owner of a fork measured with a caliper, as TOML with units.
//
//     name = "Larch 160"
//     travel = "160 mm"
//     maximum_pressure = "150 psi"
//     [air_spring]
//     piston_diameter = "31.0 mm"
//     shaft_diameter = "8.0 mm"
//     positive_volume = "205 cm3 +/- 5 cm3"
//
// Reading is strict: a key that is not known, a unit that does not fit and a required key that is
// missing are refused with file:line:column. Required are the five keys above without the volume.
#pragma once

#include <filesystem>
#include <string_view>

#include "protocol/record/fork.hpp"

namespace protocol {

// ERRORS: input_missing, input_malformed, input_unknown_key, input_out_of_range, unit_unknown,
// unit_wrong_dimension.
Result<Fork> load_fork(const std::filesystem::path& path);

// The same from text; `name` stands for the file in messages.
Result<Fork> parse_fork(std::string_view text, std::string_view name);

}  // namespace protocol
