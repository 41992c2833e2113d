// Starts gnuplot for the figures. The script enters by standard input and the drawing comes back by
// standard output: no shell, no file name, nothing of a user's text on a command line.
#pragma once

#include <chrono>
#include <string>
#include <string_view>
#include <vector>

#include "protocol/result.hpp"

namespace controller::cli {

struct GnuplotOptions {
  std::string program = "gnuplot";
  // -d: the person's own start-up file must not change the figures of a report.
  std::vector<std::string> arguments = {"-d"};
  // A figure takes a tenth of a second; the first one on a machine builds the font cache.
  std::chrono::milliseconds time_limit = std::chrono::seconds(60);
};

// RETURNS: what the script draws, as bytes. ERRORS: write_failed if gnuplot is not installed
// (naming the package), exceeds the time limit (it is killed), ends with an error (its own words
// are in the message), or draws nothing. A mere warning, such as one about fonts, stops nothing.
protocol::Result<std::string> run_gnuplot(std::string_view script,
                                          const GnuplotOptions& options = {});

}  // namespace controller::cli
