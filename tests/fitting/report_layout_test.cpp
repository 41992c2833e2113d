#include <catch2/catch.hpp>
#include <cmath>
#include <set>

#include "fitting/report/axis_scale.hpp"
#include "fitting/report/figure_layout.hpp"
#include "fitting/report/figure_text.hpp"
#include "fitting/report/palette.hpp"

using namespace fitting;
using Catch::Matchers::WithinAbs;

namespace {

Figure crowded_figure(FigureSize size) {
  Figure figure;
  figure.name = "crowded";
  figure.size = size;
  figure.title =
      "A title that is so long that it has to be wrapped on every page, and then some more";
  figure.subtitle = "81.0 psi (5.58 bar), 1 spacer; 95.0 psi (6.55 bar), 2 spacers; 4.0 mm/s";
  figure.x = {"Travel", "mm"};
  Panel panel;
  panel.y = {"Larch 160 Expert with a very long name less Basalt 160", "N"};
  panel.layers = {Line{"Larch 160", Tone::first, {0, 146}, {-123456.0, 1200.0}},
                  Line{"Basalt 160 of the second series", Tone::second, {0, 146}, {5.0, 1100.0}},
                  Line{"a third one with a name of its own", Tone::third, {0, 146}, {2.0, 900.0}},
                  VerticalMarker{"sag of Larch 160 30.1 mm", 30.1},
                  VerticalMarker{"sag of Basalt 160 31.4 mm", 31.4},
                  VerticalMarker{"crossing 33.0 ± 1.0 mm", 33.0},
                  VerticalMarker{"at the very end 145.9 mm", 145.9},
                  SpanShade{"Larch 160 firmer", Tone::first, 20.0, 40.0},
                  HorizontalMarker{"430 N", 430.0}};
  figure.panels = {panel, panel};
  return figure;
}

struct Box {
  double left;
  double right;
  double top;
  double bottom;
};

Box box_of(const PlacedText& text) {
  const double width = text_width_px(text.text, text.font_px, text.bold);
  const double left = text.align == TextAlign::left     ? text.x_px
                      : text.align == TextAlign::centre ? text.x_px - 0.5 * width
                                                        : text.x_px - width;
  return {left, left + width, text.y_px - 0.5 * text.font_px, text.y_px + 0.5 * text.font_px};
}

bool overlap(const Box& a, const Box& b) {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

}  // namespace

TEST_CASE("axis scale: ends and steps are round", "[fit]") {
  const AxisScale scale = make_scale(3.0, 1187.0, 6, true);
  CHECK_THAT(scale.step, WithinAbs(200.0, 1e-9));  // exact up to rounding
  CHECK_THAT(scale.to, WithinAbs(1200.0, 1e-9));   // the next tick
  CHECK_THAT(scale.first_tick, WithinAbs(0.0, 1e-9) || WithinAbs(200.0, 1e-9));
  CHECK(scale.from <= 3.0);
}

TEST_CASE("axis scale: a little below a tick opens no whole step", "[fit]") {
  const AxisScale scale = make_scale(-12.0, 1000.0, 6, true);
  CHECK(scale.from < -12.0);
  CHECK(scale.from > -100.0);
  CHECK_THAT(scale.first_tick, WithinAbs(0.0, 1e-9));
}

TEST_CASE("axis scale: fixed ends stay, and ticks lie inside them", "[fit]") {
  const AxisScale scale = make_scale(0.3, 145.7, 8, false);
  CHECK(scale.from == 0.3);
  CHECK(scale.to == 145.7);
  CHECK(scale.first_tick >= scale.from);
  CHECK(scale.tick_text(20.0) == "20");
  CHECK(make_scale(0.0, 1.0, 5, true).tick_text(0.2) == "0.2");
  CHECK(make_scale(0.0, 0.05, 5, true).decimals == 2);
}

TEST_CASE("axis scale: a constant curve still has a scale", "[fit]") {
  const AxisScale scale = make_scale(7.0, 7.0, 5, true);
  CHECK(scale.from < 7.0);
  CHECK(scale.to > 7.0);
  CHECK(scale.step > 0.0);
}

TEST_CASE("figure layout: no text leaves the figure, lies on another, or on a panel", "[fit]") {
  const FigureSize size = GENERATE(FigureSize::full, FigureSize::half);
  const FigureLayout layout = lay_out(crowded_figure(size));
  for (std::size_t i = 0; i < layout.texts.size(); ++i) {
    const Box box = box_of(layout.texts[i]);
    CAPTURE(layout.texts[i].text, box.left, box.right, box.top, box.bottom);
    CHECK(box.left >= 0.0);
    CHECK(box.right <= layout.width_px);
    CHECK(box.top >= 0.0);
    CHECK(box.bottom <= layout.height_px);
    for (const auto& panel : layout.panels) {
      CHECK_FALSE(overlap(box, {panel.left_px, panel.right_px, panel.top_px, panel.bottom_px}));
    }
    for (std::size_t k = i + 1; k < layout.texts.size(); ++k) {
      CAPTURE(layout.texts[k].text);
      CHECK_FALSE(overlap(box, box_of(layout.texts[k])));
    }
  }
}

TEST_CASE("figure layout: panels share their edges, and tick labels have room left of them",
          "[fit]") {
  const FigureLayout layout = lay_out(crowded_figure(FigureSize::full));
  REQUIRE(layout.panels.size() == 2);
  CHECK(layout.panels[0].left_px == layout.panels[1].left_px);
  CHECK(layout.panels[0].right_px == layout.panels[1].right_px);
  CHECK(layout.panels[0].bottom_px < layout.panels[1].top_px);
  for (const auto& panel : layout.panels) {
    CHECK(text_width_px(panel.y.widest_tick(), kTickFont_px) < panel.left_px);
  }
}

TEST_CASE("figure layout: a curve is explained once, where it first appears", "[fit]") {
  const FigureLayout layout = lay_out(crowded_figure(FigureSize::full));
  CHECK(layout.samples.size() == 3);
}

namespace {

double channel(std::string_view colour, std::size_t at) {
  const double value = std::stoi(std::string(colour.substr(at, 2)), nullptr, 16) / 255.0;
  return value <= 0.04045 ? value / 12.92 : std::pow((value + 0.055) / 1.055, 2.4);
}

// Relative luminance of a "#rrggbb" colour in sRGB.
double luminance(std::string_view colour) {
  return 0.2126 * channel(colour, 1) + 0.7152 * channel(colour, 3) + 0.0722 * channel(colour, 5);
}

double contrast_to_paper(std::string_view colour) {
  return (luminance(kPaperColour) + 0.05) / (luminance(colour) + 0.05);
}

}  // namespace

TEST_CASE("palette: curves stand out from the paper, and no two share their dash", "[fit]") {
  std::set<std::string_view> dashes;
  for (const Tone tone : {Tone::first, Tone::second, Tone::third, Tone::fourth, Tone::fifth}) {
    const ToneStyle style = tone_style(tone);
    CAPTURE(style.colour);
    CHECK(contrast_to_paper(style.colour) >= 3.0);  // what graphics need to be told apart
    CHECK(dashes.insert(style.dash).second);
  }
  CHECK(contrast_to_paper(kInkColour) >= 7.0);
  CHECK(contrast_to_paper(kQuietColour) >= 4.5);
}

TEST_CASE("palette: fork A and B, and measured and simulated, differ in lightness", "[fit]") {
  CHECK(luminance(tone_style(Tone::second).colour) >
        3.0 * luminance(tone_style(Tone::first).colour));
  CHECK(luminance(tone_style(Tone::measured).colour) >
        10.0 * luminance(tone_style(Tone::simulated).colour));
  CHECK(tone_style(Tone::measured).width_px > 2.0 * tone_style(Tone::simulated).width_px);
}
