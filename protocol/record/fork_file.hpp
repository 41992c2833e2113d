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
// Other springs say their kind: "coil", "air_shock", "coil_shock". A coil has its own table, all of
// which may be left out, and needs no pressure; a shock has no [lower_legs].
//
//     kind = "coil"
//     [coil_spring]
//     rate = "9 N/mm +/- 0.5 N/mm"
//     second_rate = "12 N/mm"           # the whole rate beyond
//     second_rate_from = "95 mm"        # this travel
//     top_out_rate = "20 N/mm"          # pulls back near full extension,
//     top_out_travel = "6 mm"           # up to this travel
//
// Reading is strict: a key that is not known, a unit that does not fit and a required key that is
// missing are refused with file:line:column. Required are name and travel, and of an air kind
// maximum_pressure and the two diameters.
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
