// A certificate's page on disk: one HTML file beside the JSON that is the certificate.
#pragma once

#include <filesystem>

#include "calibration/calibration.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::cli {

// Draws the figures and writes the page. ERRORS: output_exists (never overwritten), write_failed
// (gnuplot missing or failing, disk full).
protocol::Result<void> write_certificate_page(protocol::FileSystem& files,
                                              const calibration::Calibration& calibration,
                                              const std::filesystem::path& path);

}  // namespace controller::cli
