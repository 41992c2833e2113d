// A certificate's page on disk: one HTML file beside the JSON that is the certificate.
#pragma once

#include <filesystem>

#include "calibration/calibration.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {

// Whether a page may be written there; an empty path is no page. ERRORS: output_exists.
protocol::Result<void> check_page_path(protocol::FileSystem& files,
                                       const std::filesystem::path& path);

// Draws the figures and writes the page. ERRORS: output_exists (never overwritten), write_failed
// (gnuplot missing or failing, disk full).
protocol::Result<void> write_certificate_page(protocol::FileSystem& files,
                                              const calibration::Calibration& calibration,
                                              const std::filesystem::path& path);

}  // namespace controller::cli
