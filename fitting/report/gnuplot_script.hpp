// A figure as a gnuplot script that needs nothing else: data inline, output to standard output.
// Nothing of a user's text can run a command or break the drawing (figure_text.hpp).
#pragma once

#include <string>

#include "fitting/report/figure.hpp"
#include "fitting/report/figure_text.hpp"

namespace fitting {

// The most rows that one layer puts into a figure.
inline constexpr std::size_t kDrawnRowsMax = 2000;

// svg: 720 or 440 pixels wide, generic sans-serif; png: twice as many pixels; pdf: the same size
// at 96 pixels an inch. REQUIRES: at least one panel; columns of a layer of equal length; a name of
// letters, digits, '-' and '_'.
std::string gnuplot_script(const Figure& figure, Terminal terminal);

}  // namespace fitting
