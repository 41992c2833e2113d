// A figure drawn into a file of its own, in the kind that the file's ending says.
#pragma once

#include <string>

#include "fitting/report/figure.hpp"
#include "protocol/result.hpp"

namespace controller::cli {

// Whether there can be such a file; an empty path asks for none. ERRORS: usage for another ending,
// output_exists.
protocol::Result<void> check_figure_file(const std::string& path);

// ERRORS: as check_figure_file, of gnuplot, of writing.
protocol::Result<void> write_figure(const fitting::Figure& figure, const std::string& path);

}  // namespace controller::cli
