// A model file read from disk.
#pragma once

#include <filesystem>

#include "fitting/model/fitted_model.hpp"

namespace controller::cli {

// ERRORS: input_missing, input_malformed, input_unknown_key.
protocol::Result<fitting::FittedModel> load_model(const std::filesystem::path& path);

}  // namespace controller::cli
