// The last sweep in a folder, for repeating its settings.
#pragma once

#include <filesystem>

#include "protocol/record/sweep_record.hpp"

namespace controller::cli {

struct LastSweep {
  std::filesystem::path path;
  protocol::Metadata metadata;
  // The carriage's way from end to end; empty where its first stroke was never finished.
  std::optional<double> to_m;
};

// The newest record of a sweep, by when it was created; an empty folder is the present one. ERRORS:
// input_missing where there is none.
protocol::Result<LastSweep> find_last_sweep(const std::filesystem::path& folder);

}  // namespace controller::cli
