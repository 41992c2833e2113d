// bench.toml at the root of a workshop folder. Every key may be left out; a key that is not known
// is refused, as in fork files.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "protocol/record/bench.hpp"

namespace protocol {

// ERRORS: as load_fork.
Result<Bench> load_bench(const std::filesystem::path& path);
Result<Bench> parse_bench(std::string_view text, std::string_view name);

// A bench file with every key, its default and a comment, as a new workshop folder gets it.
std::string new_bench_text();

}  // namespace protocol
