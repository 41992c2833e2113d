// A figure as data: what is drawn, in which order, on which axes, with its alternative text. How it
// looks is gnuplot_script.cpp's work; no layer names a colour, only a part that it plays.
//
// Numbers are in the units that the axes name, since a figure is made for people.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace fitting {

// The part a layer plays. Each has a colour, a dash and a width of its own, apart in grey print and
// for colour-blind readers (palette.hpp).
enum class Tone {
  first,   // fork A
  second,  // fork B
  third,
  fourth,
  fifth,
  measured,   // a wide pale path that a thin dark one can be laid over
  simulated,  // the thin dark one
  difference,
  neutral,  // zero lines, marks, whatever belongs to no fork
};

// A path: points are joined in the order given, so that a loop stays a loop. A NaN lifts the pen.
struct Line {
  std::string label;  // for the legend, empty: none
  Tone tone = Tone::first;
  std::vector<double> x;
  std::vector<double> y;
};

// The area between two curves over ascending x.
struct Band {
  std::string label;
  Tone tone = Tone::first;
  std::vector<double> x;
  std::vector<double> lower;
  std::vector<double> upper;
};

struct Points {
  std::string label;
  Tone tone = Tone::first;
  std::vector<double> x;
  std::vector<double> y;
};

// A thin vertical line with its label above the panel.
struct VerticalMarker {
  std::string label;
  double at = 0.0;
};

// A thin horizontal line with its label right of the panel.
struct HorizontalMarker {
  std::string label;
  double at = 0.0;
};

// A lightly shaded span of x with its label above the panel.
struct SpanShade {
  std::string label;
  Tone tone = Tone::neutral;
  double from = 0.0;
  double to = 0.0;
};

using Layer = std::variant<SpanShade, Band, HorizontalMarker, VerticalMarker, Line, Points>;

struct Axis {
  std::string label;                // "Travel"
  std::string unit;                 // "mm"; empty for a pure number
  std::optional<double> from = {};  // fixed ends; left out, they follow from the layers
  std::optional<double> to = {};
  bool include_zero = false;
};

// Panels lie below each other and share the horizontal axis.
struct Panel {
  Axis y;
  std::vector<Layer> layers;  // shades and bands are drawn behind lines whatever their order
  double height_share = 1.0;
};

enum class FigureSize { full, half };  // half: two of them fit side by side

struct Figure {
  std::string name;      // file name without ending: letters, digits, '-' and '_'
  std::string title;     // one short sentence that says what to see
  std::string subtitle;  // what is drawn, and under which circumstances
  std::string alt;       // for whoever cannot see it: what it shows, with the numbers that matter
  Axis x;
  std::vector<Panel> panels;
  FigureSize size = FigureSize::full;
};

}  // namespace fitting
