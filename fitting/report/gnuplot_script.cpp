#include "fitting/report/gnuplot_script.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>

#include "fitting/report/decimate.hpp"
#include "fitting/report/figure_layout.hpp"
#include "fitting/report/palette.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

constexpr double kBandOpacity = 0.2;
constexpr double kShadeOpacity = 0.10;
// Not quite a zero line's width: gnuplot's SVG forgets a change of dash where nothing else changes.
constexpr double kMarkWidth_px = 1.05;

bool is_plain_name(const std::string& name) {
  return !name.empty() && name.find_first_not_of(
                              "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUV"
                              "WXYZ0123456789-_") == std::string::npos;
}

class ScriptWriter {
 public:
  ScriptWriter(const Figure& figure, Terminal terminal)
      : figure_(figure), terminal_(terminal), layout_(lay_out(figure)) {}

  std::string write() {
    preamble();
    for (const auto& text : layout_.texts) label(text);
    for (const auto& each : layout_.samples) sample(each);
    for (std::size_t i = 0; i < figure_.panels.size(); ++i) panel(i);
    line("unset multiplot");
    return std::move(script_);
  }

 private:
  template <class... Args>
  void line(fmt::format_string<Args...> format, Args&&... args) {
    fmt::format_to(std::back_inserter(script_), format, std::forward<Args>(args)...);
    script_ += '\n';
  }

  std::string screen(double x_px, double y_px) const {
    return fmt::format("screen {:.5f}, screen {:.5f}", x_px / layout_.width_px,
                       1.0 - y_px / layout_.height_px);
  }

  // gnuplot's terminals count fonts differently; these factors give each the same share of its
  // page.
  double font_size(double font_px) const {
    switch (terminal_) {
      case Terminal::svg:
        return font_px;
      case Terminal::png:
        return 0.75 * font_px;
      case Terminal::pdf:
        return 0.5625 * font_px;
    }
    ENSURE(false);
  }
  std::string font(double font_px, bool bold) const {
    const std::string_view family = terminal_ == Terminal::svg ? "sans-serif" : "DejaVu Sans";
    return fmt::format("font '{}{},{:.2f}'", family, bold ? ":Bold" : "", font_size(font_px));
  }

  void preamble() {
    ENSURE(is_plain_name(figure_.name));
    line("set encoding utf8");
    line("set minussign");
    const double width = layout_.width_px;
    const double height = layout_.height_px;
    const std::string face = font(kTickFont_px, false);
    std::string id = figure_.name;  // prefixes the ids within an SVG
    std::replace(id.begin(), id.end(), '-', '_');
    switch (terminal_) {
      case Terminal::svg:
        line("set terminal svg size {},{} fixed noenhanced rounded name '{}' {} background '{}'",
             width, height, id, face, kPaperColour);
        break;
      case Terminal::png:
        line(
            "set terminal pngcairo size {},{} noenhanced rounded {} fontscale 2 linewidth 2 "
            "pointscale 2 dashlength {} background '{}'",
            2 * width, 2 * height, face, 3.0, kPaperColour);
        break;
      case Terminal::pdf:
        line(
            "set terminal pdfcairo size {:.4f}in,{:.4f}in noenhanced rounded {} fontscale 1 "
            "linewidth 1.5 pointscale 0.75 dashlength {} background '{}'",
            width / 96.0, height / 96.0, face, 2.7, kPaperColour);
        break;
    }
    line("unset key");
    line("set multiplot");
  }

  void label(const PlacedText& text) {
    if (text.text.empty()) return;
    const std::string_view align = text.align == TextAlign::left     ? "left"
                                   : text.align == TextAlign::centre ? "center"
                                                                     : "right";
    line("set label {} at {} {} {} textcolor rgb '{}' noenhanced",
         gnuplot_quoted(text.text, terminal_), screen(text.x_px, text.y_px), align,
         font(text.font_px, text.bold), text.colour);
  }

  static std::string dash(const ToneStyle& style) {
    return style.dash.empty() ? "dashtype solid" : fmt::format("dashtype {}", style.dash);
  }

  void sample(const LegendSample& entry) {
    const ToneStyle style = tone_style(entry.tone);
    const std::string from = screen(entry.x_px, entry.y_px);
    const std::string to = screen(entry.x_px + entry.width_px, entry.y_px);
    switch (entry.kind) {
      case SampleKind::line:
        line("set arrow from {} to {} nohead linewidth {} linecolor rgb '{}' {}", from, to,
             style.width_px, style.colour, dash(style));
        break;
      case SampleKind::points:
        line("set label '' at {} point pointtype {} pointsize 0.9 linecolor rgb '{}'",
             screen(entry.x_px + 0.5 * entry.width_px, entry.y_px), style.point_type, style.colour);
        break;
      case SampleKind::band:
      case SampleKind::shade:
        line(
            "set object rectangle from {} to {} fillcolor rgb '{}' fillstyle transparent solid "
            "{} noborder",
            screen(entry.x_px, entry.y_px + 6.0),
            screen(entry.x_px + entry.width_px, entry.y_px - 6.0), style.colour, kBandOpacity);
        break;
    }
  }

  void panel(std::size_t index) {
    const PanelBox& box = layout_.panels[index];
    const AxisScale& x = layout_.x;
    const bool last = index + 1 == figure_.panels.size();
    line("set lmargin at screen {:.5f}", box.left_px / layout_.width_px);
    line("set rmargin at screen {:.5f}", box.right_px / layout_.width_px);
    line("set tmargin at screen {:.5f}", 1.0 - box.top_px / layout_.height_px);
    line("set bmargin at screen {:.5f}", 1.0 - box.bottom_px / layout_.height_px);
    line("set border {} linewidth 1 linecolor rgb '{}' back", 1, kAxisColour);
    line(
        "set grid noxtics ytics back linetype 1 linewidth 0.8 linecolor rgb '{}', linetype 1 "
        "linewidth 0.8 linecolor rgb '{}'",
        kRuleColour, kRuleColour);
    line("set xrange [{:.9g}:{:.9g}]", x.from, x.to);
    line("set yrange [{:.9g}:{:.9g}]", box.y.from, box.y.to);
    line("set xtics {:.9g},{:.9g},{:.9g} nomirror out scale 0.6 textcolor rgb '{}'", x.first_tick,
         x.step, x.to, kInkColour);
    line("set ytics {:.9g},{:.9g},{:.9g} nomirror out scale 0.35 textcolor rgb '{}'",
         box.y.first_tick, box.y.step, box.y.to, kInkColour);
    line("set format x '{}'", last ? fmt::format("%.{}f", x.decimals) : std::string());
    line("set format y '%.{}f'", box.y.decimals);
    behind(figure_.panels[index], box);
    plot(figure_.panels[index]);
    line("unset label");
    line("unset arrow");
    line("unset object");
  }

  // Shades and marks: everything that is no data.
  void behind(const Panel& panel, const PanelBox& box) {
    const ToneStyle neutral = tone_style(Tone::neutral);
    for (const auto& layer : panel.layers) {
      if (const auto* span = std::get_if<SpanShade>(&layer)) {
        const double from = std::max(span->from, layout_.x.from);
        const double to = std::min(span->to, layout_.x.to);
        if (!(from < to)) continue;
        line(
            "set object rectangle from {:.9g}, graph 0 to {:.9g}, graph 1 behind fillcolor rgb "
            "'{}' fillstyle transparent solid {} noborder",
            from, to, tone_style(span->tone).colour, kShadeOpacity);
      } else if (const auto* vertical = std::get_if<VerticalMarker>(&layer)) {
        if (vertical->at < layout_.x.from || vertical->at > layout_.x.to) continue;
        line(
            "set arrow from {0:.9g}, graph 0 to {0:.9g}, graph 1 nohead back linewidth {1} "
            "linecolor rgb '{2}' dashtype (6,7)",
            vertical->at, kMarkWidth_px, neutral.colour);
      } else if (const auto* horizontal = std::get_if<HorizontalMarker>(&layer)) {
        horizontal_marker(*horizontal, box);
      }
    }
  }

  void horizontal_marker(const HorizontalMarker& marker, const PanelBox& box) {
    if (marker.at < box.y.from || marker.at > box.y.to) return;
    const ToneStyle neutral = tone_style(Tone::neutral);
    line(
        "set arrow from graph 0, first {0:.9g} to graph 1, first {0:.9g} nohead back linewidth "
        "{1} linecolor rgb '{2}' dashtype solid",
        marker.at, neutral.width_px, neutral.colour);
    const double share = (marker.at - box.y.from) / (box.y.to - box.y.from);
    label({box.right_px + 6.0, box.bottom_px - share * (box.bottom_px - box.top_px),
           one_line(marker.label), TextAlign::left, kTickFont_px, false, kQuietColour});
  }

  // Writes rows as a named block and returns its name. A row with a gap becomes an empty line,
  // which lifts gnuplot's pen.
  std::string block(const std::vector<const std::vector<double>*>& columns) {
    const std::string name = fmt::format("$d{}", blocks_++);
    line("{} << ENDOFROWS", name);
    for (std::size_t row : kept_rows(columns, kDrawnRowsMax)) {
      std::string text;
      for (const auto* column : columns) {
        const double value = (*column)[row];
        if (!std::isfinite(value)) {
          text.clear();
          break;
        }
        fmt::format_to(std::back_inserter(text), "{}{:.7g}", text.empty() ? "" : " ", value);
      }
      line("{}", text);
    }
    line("ENDOFROWS");
    return name;
  }

  void plot(const Panel& panel) {
    std::string bands;
    std::string curves;
    const auto add = [](std::string& list, const std::string& item) {
      if (!list.empty()) list += ", ";
      list += item;
    };
    for (const auto& layer : panel.layers) {
      if (const auto* band = std::get_if<Band>(&layer)) {
        const ToneStyle style = tone_style(band->tone);
        const std::string name = block({&band->x, &band->lower, &band->upper});
        add(bands, fmt::format("{} using 1:2:3 with filledcurves linecolor rgb '{}' fillstyle "
                               "transparent solid {} noborder",
                               name, style.colour, kBandOpacity));
        // A curve runs inside the others, and edges close to it would blur it.
        if (band->tone != Tone::neutral) continue;
        for (int column : {2, 3}) {
          add(bands, fmt::format("{} using 1:{} with lines linewidth 0.7 linecolor rgb '{}'", name,
                                 column, style.colour));
        }
      } else if (const auto* path = std::get_if<Line>(&layer)) {
        const ToneStyle style = tone_style(path->tone);
        add(curves,
            fmt::format("{} using 1:2 with lines linewidth {} linecolor rgb '{}' {}",
                        block({&path->x, &path->y}), style.width_px, style.colour, dash(style)));
      } else if (const auto* points = std::get_if<Points>(&layer)) {
        const ToneStyle style = tone_style(points->tone);
        add(curves, fmt::format("{} using 1:2 with points pointtype {} pointsize 0.9 linecolor rgb "
                                "'{}'",
                                block({&points->x, &points->y}), style.point_type, style.colour));
      }
    }
    if (!curves.empty()) add(bands, curves);
    line("plot {}", bands.empty() ? std::string("NaN notitle") : bands);
  }

  const Figure& figure_;
  const Terminal terminal_;
  const FigureLayout layout_;
  std::string script_;
  int blocks_ = 0;
};

}  // namespace

std::string gnuplot_script(const Figure& figure, Terminal terminal) {
  return ScriptWriter(figure, terminal).write();
}

}  // namespace fitting
