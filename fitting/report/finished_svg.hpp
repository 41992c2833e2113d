// The last touch to gnuplot's SVG.
#pragma once

#include <string>

#include "fitting/report/figure.hpp"

namespace fitting {

// gnuplot's SVG terminal takes ":Bold" for a part of the family's name, and titles the drawing
// after itself. Puts both right: bold text is bold, and a reader that cannot see hears the figure's
// title and alternative text.
std::string finished_svg(std::string svg, const Figure& figure);

}  // namespace fitting
