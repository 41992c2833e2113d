// The control chart of checks as a drawing.
#pragma once

#include <filesystem>

#include "calibration/control_chart.hpp"
#include "fitting/report/figure.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {

// REQUIRES: at least one point.
fitting::Figure check_figure(const calibration::ControlChart& chart);

// ERRORS: output_exists (never overwritten), write_failed (gnuplot missing or failing, disk full).
protocol::Result<void> write_check_figure(protocol::FileSystem& files,
                                          const calibration::ControlChart& chart,
                                          const std::filesystem::path& path);

}  // namespace controller::cli
