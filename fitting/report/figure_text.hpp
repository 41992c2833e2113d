// Text on its way into a figure: cleaned, measured, wrapped, and quoted so that nothing in it can
// run or break anything.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace fitting {

enum class Terminal { svg, png, pdf };

// One line of valid UTF-8: line breaks and tabs become spaces, other control characters vanish,
// broken bytes become U+FFFD.
std::string one_line(std::string_view text);

// A gnuplot string in single quotes, within which gnuplot substitutes nothing (a backtick in double
// quotes would run a command). A single quote of the text becomes a typographic one: doubling it,
// the manual's way, fails where two stand in a row, since gnuplot 5.4 ends the string there. For
// SVG, the two spellings that gnuplot lets through into the markup unescaped are written as
// references.
std::string gnuplot_quoted(std::string_view text, Terminal terminal);

// Width in pixels of a line set in a sans-serif face, on the generous side, so that what is laid
// out by it is never clipped.
double text_width_px(std::string_view text, double font_px, bool bold = false);

// Breaks at spaces into lines no wider than width_px; what does not fit into max_lines is cut and
// ends in an ellipsis.
std::vector<std::string> wrapped(std::string_view text, double width_px, double font_px, bool bold,
                                 std::size_t max_lines);

}  // namespace fitting
