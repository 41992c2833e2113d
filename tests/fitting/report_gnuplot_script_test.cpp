#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <sstream>

#include "fitting/report/gnuplot_script.hpp"

using namespace fitting;

namespace {

Figure small_figure() {
  Figure figure;
  figure.name = "small-one";
  figure.title = "Force against travel";
  figure.subtitle = "81.0 psi";
  figure.alt = "A line.";
  figure.x = {"Travel", "mm"};
  Panel panel;
  panel.y = {"Force", "N"};
  panel.layers = {SpanShade{"A firmer", Tone::first, 1.0, 2.0},
                  Band{"band", Tone::neutral, {0, 1, 2}, {-1, 0, 1}, {1, 2, 3}},
                  Line{"Larch", Tone::first, {0, 2, 1}, {0.5, 2.25, 1}},
                  Points{"readings", Tone::second, {0.5}, {1}},
                  VerticalMarker{"sag", 1.5},
                  HorizontalMarker{"430 N", 2.5}};
  figure.panels = {panel};
  return figure;
}

std::vector<std::string> lines_of(const std::string& script) {
  std::vector<std::string> lines;
  std::istringstream stream(script);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

// Rows of each data block in turn.
std::vector<std::vector<std::string>> blocks_of(const std::string& script) {
  std::vector<std::vector<std::string>> blocks;
  bool inside = false;
  for (const auto& line : lines_of(script)) {
    if (line == "ENDOFROWS") {
      inside = false;
    } else if (inside) {
      blocks.back().push_back(line);
    } else if (line.ends_with("<< ENDOFROWS")) {
      blocks.emplace_back();
      inside = true;
    }
  }
  return blocks;
}

}  // namespace

TEST_CASE("gnuplot script: data stand inline in the order of the path", "[fit]") {
  const auto blocks = blocks_of(gnuplot_script(small_figure(), Terminal::svg));
  REQUIRE(blocks.size() == 3);
  CHECK(blocks[0] == std::vector<std::string>{"0 -1 1", "1 0 2", "2 1 3"});
  CHECK(blocks[1] == std::vector<std::string>{"0 0.5", "2 2.25", "1 1"});
  CHECK(blocks[2] == std::vector<std::string>{"0.5 1"});
}

TEST_CASE("gnuplot script: each terminal is set with its size and without enhanced text", "[fit]") {
  const auto [terminal, words] = GENERATE(table<Terminal, std::string>({
      {Terminal::svg, "set terminal svg size 720,"},
      {Terminal::png, "set terminal pngcairo size 1440,"},
      {Terminal::pdf, "set terminal pdfcairo size 7.5000in,"},
  }));
  const std::string script = gnuplot_script(small_figure(), terminal);
  const auto lines = lines_of(script);
  const auto found = std::find_if(lines.begin(), lines.end(),
                                  [&](const std::string& line) { return line.starts_with(words); });
  REQUIRE(found != lines.end());
  CHECK(found->find(" noenhanced ") != std::string::npos);
  CHECK((found->find("sans-serif") != std::string::npos) == (terminal == Terminal::svg));
}

TEST_CASE("gnuplot script: every label is noenhanced and no double quote is used at all", "[fit]") {
  const std::string script = gnuplot_script(small_figure(), Terminal::png);
  CHECK(script.find('"') == std::string::npos);
  for (const auto& line : lines_of(script)) {
    if (!line.starts_with("set label '") || line.starts_with("set label ''")) continue;
    CAPTURE(line);
    CHECK(line.ends_with(" noenhanced"));
  }
  CHECK(script.find("set label 'Force (N)'") != std::string::npos);
  CHECK(script.find("set label 'Travel (mm)'") != std::string::npos);
}

TEST_CASE("gnuplot script: hostile names stay inside their quotes", "[fit]") {
  Figure figure = small_figure();
  figure.title = "`touch x`'; system('touch x') #\n!touch x";
  figure.x.label = "Tra'vel";
  std::get<Line>(figure.panels[0].layers[2]).label = "'\\";
  const std::string script = gnuplot_script(figure, Terminal::svg);
  for (const auto& line : lines_of(script)) {
    CAPTURE(line);
    // A command of its own would start a line; a string closed early would leave an odd count.
    CHECK_FALSE(line.starts_with("!"));
    CHECK(std::count(line.begin(), line.end(), '\'') % 2 == 0);
  }
  CHECK(script.find("'`touch x`’; system(’touch x’) # !touch x'") != std::string::npos);
}

TEST_CASE("gnuplot script: a long loop is thinned to at most 2000 rows", "[fit]") {
  Figure figure = small_figure();
  Line& line = std::get<Line>(figure.panels[0].layers[2]);
  line.x.clear();
  line.y.clear();
  for (int i = 0; i < 50000; ++i) {
    line.x.push_back(std::cos(i * 1e-3));
    line.y.push_back(std::sin(i * 1e-3));
  }
  const auto blocks = blocks_of(gnuplot_script(figure, Terminal::svg));
  CHECK(blocks[1].size() <= kDrawnRowsMax);
  CHECK(blocks[1].size() > kDrawnRowsMax / 4);
}

TEST_CASE("gnuplot script: a gap lifts the pen", "[fit]") {
  Figure figure = small_figure();
  std::get<Line>(figure.panels[0].layers[2]).y[1] = std::numeric_limits<double>::quiet_NaN();
  const auto blocks = blocks_of(gnuplot_script(figure, Terminal::svg));
  CHECK(blocks[1] == std::vector<std::string>{"0 0.5", "", "1 1"});
}

TEST_CASE("gnuplot script: the same figure gives the same script", "[fit]") {
  CHECK(gnuplot_script(small_figure(), Terminal::svg) ==
        gnuplot_script(small_figure(), Terminal::svg));
}
