// Where everything of a figure goes, in pixels from the top left: title, legend and labels get
// places of their own outside the panels, so that no text is clipped and none lies over a line.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "fitting/report/axis_scale.hpp"
#include "fitting/report/figure.hpp"

namespace fitting {

enum class TextAlign { left, centre, right };

struct PlacedText {
  double x_px = 0.0;
  double y_px = 0.0;  // of the line's middle
  std::string text;
  TextAlign align = TextAlign::left;
  double font_px = 14.0;
  bool bold = false;
  std::string_view colour;
};

enum class SampleKind { line, band, points, shade };

// The little line or patch before a legend entry.
struct LegendSample {
  double x_px = 0.0;
  double y_px = 0.0;
  double width_px = 0.0;
  SampleKind kind = SampleKind::line;
  Tone tone = Tone::first;
};

struct PanelBox {
  double left_px = 0.0;
  double right_px = 0.0;
  double top_px = 0.0;
  double bottom_px = 0.0;
  AxisScale y;
};

struct FigureLayout {
  double width_px = 0.0;
  double height_px = 0.0;
  AxisScale x;
  std::vector<PanelBox> panels;  // one for each of the figure's, top down
  std::vector<PlacedText> texts;
  std::vector<LegendSample> samples;
};

inline constexpr double kTickFont_px = 13.0;

// REQUIRES: at least one panel.
FigureLayout lay_out(const Figure& figure);

}  // namespace fitting
