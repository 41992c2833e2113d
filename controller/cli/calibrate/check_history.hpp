// The history of checks on disk: read, and made longer by one line.
#pragma once

#include <filesystem>

#include "calibration/check_history.hpp"

namespace controller::cli {

// Nothing where the file is not there yet. ERRORS: input_malformed, input_missing (not readable).
protocol::Result<calibration::CheckHistory> load_check_history(const std::filesystem::path& path);

// Adds one line and returns once it is on the disk; begins the file, and its folder, where there is
// none. A line that was torn before is left as it is, and the new one begins below it.
// ERRORS: write_failed.
protocol::Result<void> append_check(const std::filesystem::path& path,
                                    const calibration::ControlPoint& point);

}  // namespace controller::cli
