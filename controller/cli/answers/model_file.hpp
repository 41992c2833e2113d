// A model file read from disk.
#pragma once

#include <filesystem>

#include "fitting/model/fitted_model.hpp"

namespace controller::cli {

inline constexpr std::size_t kModelBytesMax = std::size_t{64} << 20;

// ERRORS: input_missing, input_malformed, input_unknown_key.
protocol::Result<fitting::FittedModel> load_model(const std::filesystem::path& path);

}  // namespace controller::cli
