// The look of each tone. Chosen so that neighbours differ in lightness and in dash, and not in hue
// alone: a grey print and a colour-blind reader lose nothing.
#pragma once

#include <string_view>

#include "fitting/report/figure.hpp"

namespace fitting {

struct ToneStyle {
  std::string_view colour;  // "#rrggbb"
  std::string_view dash;    // gnuplot's dash list, empty: solid
  double width_px = 1.0;
  int point_type = 7;  // gnuplot's number
};

ToneStyle tone_style(Tone tone);

inline constexpr std::string_view kInkColour = "#1b1f24";    // titles, numbers
inline constexpr std::string_view kQuietColour = "#565e68";  // subtitles, axis labels
inline constexpr std::string_view kRuleColour = "#dde1e6";   // grid
inline constexpr std::string_view kAxisColour = "#3c434b";
inline constexpr std::string_view kPaperColour = "#ffffff";

}  // namespace fitting
