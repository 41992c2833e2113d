// A report on disk: DIR/report.html, DIR/figures/NAME.svg .png .pdf, DIR/data/NAME.csv and
// report.json. All of it is there, or none.
#pragma once

#include <filesystem>

#include "fitting/report/section.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {

// ERRORS: output_exists where the folder holds a report, or anything where a report's files go.
protocol::Result<void> check_report_folder(protocol::FileSystem& files,
                                           const std::filesystem::path& folder);

// Draws every figure, then writes. The page comes last, and what was written before a failure is
// taken away again. RETURNS: the page. ERRORS: output_exists, write_failed (gnuplot missing or
// failing, disk full).
protocol::Result<std::filesystem::path> write_report(protocol::FileSystem& files,
                                                     const fitting::Report& report,
                                                     const std::filesystem::path& folder);

}  // namespace controller::cli
