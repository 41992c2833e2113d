// The workshop folder that a command is called in: its bench, and where records go.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "protocol/record/bench.hpp"

namespace controller::cli {

// The folder itself or the nearest one above it that holds a bench.toml.
std::optional<std::filesystem::path> find_workshop(const std::filesystem::path& from);

// "Larch 160" -> "larch-160"; "fork" where nothing is left.
std::string file_stem(const std::string& name);

// The first free FOLDER/STEM-NNN.csv, counted from 001.
std::filesystem::path next_record_path(const std::filesystem::path& folder,
                                       const std::string& stem);

}  // namespace controller::cli
