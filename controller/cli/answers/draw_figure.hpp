// A figure through gnuplot, in one of the formats, ready to be written or put into a page.
#pragma once

#include <string>

#include "fitting/report/figure.hpp"
#include "fitting/report/gnuplot_script.hpp"
#include "protocol/result.hpp"

namespace controller::cli {

// RETURNS: bytes. ERRORS: as run_gnuplot.
protocol::Result<std::string> draw_figure(const fitting::Figure& figure,
                                          fitting::Terminal terminal = fitting::Terminal::svg);

}  // namespace controller::cli
