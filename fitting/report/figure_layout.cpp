#include "fitting/report/figure_layout.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "fitting/report/figure_text.hpp"
#include "fitting/report/palette.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

constexpr double kPad_px = 14.0;
constexpr double kTitleFont_px = 17.0;
constexpr double kTextFont_px = 13.5;
constexpr double kTitleLine_px = 23.0;
constexpr double kTextLine_px = 19.0;
constexpr double kLegendRow_px = 22.0;
constexpr double kLabelRow_px = 18.0;
constexpr double kLabelGap_px = 8.0;  // the topmost tick label reaches half a line above its panel
constexpr double kSample_px = 34.0;

struct Range {
  double low = std::numeric_limits<double>::infinity();
  double high = -std::numeric_limits<double>::infinity();

  void add(double value) {
    if (!std::isfinite(value)) return;
    low = std::min(low, value);
    high = std::max(high, value);
  }
  void add(const std::vector<double>& values) {
    for (double value : values) add(value);
  }
  bool empty() const { return low > high; }
};

struct Extent {
  Range x;
  Range y;

  void operator()(const Line& line) { x.add(line.x), y.add(line.y); }
  void operator()(const Points& points) { x.add(points.x), y.add(points.y); }
  void operator()(const Band& band) { x.add(band.x), y.add(band.lower), y.add(band.upper); }
  void operator()(const VerticalMarker&) {}
  void operator()(const SpanShade&) {}
  void operator()(const HorizontalMarker& marker) { y.add(marker.at); }
};

AxisScale scale_of(const Axis& axis, Range range, int ticks, bool widened) {
  if (axis.include_zero) range.add(0.0);
  if (axis.from) range.low = *axis.from;
  if (axis.to) range.high = *axis.to;
  if (range.empty()) range = {0.0, 1.0};
  return make_scale(range.low, range.high, ticks, widened && !(axis.from && axis.to));
}

std::string axis_title(const Axis& axis) {
  return axis.unit.empty() ? axis.label : axis.label + " (" + axis.unit + ")";
}

struct LegendEntry {
  std::string label;
  SampleKind kind;
  Tone tone;
};

// What the panel draws and no panel above it has explained.
std::vector<LegendEntry> legend_entries(const Panel& panel, std::set<std::string>& seen) {
  std::vector<LegendEntry> entries;
  const auto add = [&](const std::string& label, SampleKind kind, Tone tone) {
    if (!label.empty() && seen.insert(label).second) entries.push_back({label, kind, tone});
  };
  for (const auto& layer : panel.layers) {
    if (const auto* line = std::get_if<Line>(&layer)) {
      add(line->label, SampleKind::line, line->tone);
    } else if (const auto* band = std::get_if<Band>(&layer)) {
      add(band->label, SampleKind::band, band->tone);
    } else if (const auto* points = std::get_if<Points>(&layer)) {
      add(points->label, SampleKind::points, points->tone);
    }
  }
  return entries;
}

// Fills the layout from the top down; `y` is the next free pixel.
class Composer {
 public:
  explicit Composer(const Figure& figure) : figure_(figure) {
    layout_.width_px = figure.size == FigureSize::full ? 720.0 : 440.0;
    panel_height_px_ = figure.size == FigureSize::full ? 310.0 : 230.0;
  }

  FigureLayout compose() {
    set_scales_and_margins();
    y_ = kPad_px;
    add_lines(figure_.title, kTitleFont_px, kTitleLine_px, true, kInkColour, 3);
    y_ += 1.0;
    add_lines(figure_.subtitle, kTextFont_px, kTextLine_px, false, kQuietColour, 3);
    y_ += 5.0;
    for (std::size_t i = 0; i < figure_.panels.size(); ++i) add_panel(i);
    add_x_labels();
    layout_.height_px = std::ceil(y_ + kPad_px);
    return std::move(layout_);
  }

 private:
  void set_scales_and_margins() {
    Range x;
    double tick_width_px = 0.0;
    for (const auto& panel : figure_.panels) {
      Extent extent;
      for (const auto& layer : panel.layers) std::visit(extent, layer);
      x.add(extent.x.low);
      x.add(extent.x.high);
      const int ticks = std::max(3, static_cast<int>(std::lround(6 * panel.height_share)));
      PanelBox box;
      box.y = scale_of(panel.y, extent.y, ticks, true);
      tick_width_px =
          std::max(tick_width_px, text_width_px(box.y.widest_tick(), kTickFont_px) + 2.0);
      layout_.panels.push_back(box);
    }
    const bool full = figure_.size == FigureSize::full;
    layout_.x = scale_of(figure_.x, x, full ? 8 : 5, false);
    left_px_ = kPad_px + tick_width_px + 11.0;
    double right_margin_px = 0.5 * text_width_px(layout_.x.widest_tick(), kTickFont_px);
    for (const auto& panel : figure_.panels) {
      for (const auto& layer : panel.layers) {
        const auto* marker = std::get_if<HorizontalMarker>(&layer);
        if (marker == nullptr || marker->label.empty()) continue;
        right_margin_px =
            std::max(right_margin_px, text_width_px(one_line(marker->label), kTickFont_px) + 6.0);
      }
    }
    right_px_ = layout_.width_px - kPad_px - std::min(right_margin_px, layout_.width_px * 0.3);
  }

  void add_lines(const std::string& text, double font_px, double line_px, bool bold,
                 std::string_view colour, std::size_t max_lines) {
    const double width_px = layout_.width_px - 2.0 * kPad_px;
    for (const auto& line : wrapped(text, width_px, font_px, bold, max_lines)) {
      layout_.texts.push_back(
          {kPad_px, y_ + 0.5 * line_px, line, TextAlign::left, font_px, bold, colour});
      y_ += line_px;
    }
  }

  void add_legend(const Panel& panel) {
    const double available_px = layout_.width_px - 2.0 * kPad_px;
    double x_px = kPad_px;
    bool any = false;
    for (const auto& entry : legend_entries(panel, explained_)) {
      const double text_room_px = available_px - kSample_px - 8.0;
      const auto lines = wrapped(entry.label, text_room_px, kTextFont_px, false, 1);
      const std::string text = lines.empty() ? std::string() : lines.front();
      const double width_px = kSample_px + 8.0 + text_width_px(text, kTextFont_px) + 16.0;
      if (any && x_px + width_px - 16.0 > kPad_px + available_px) {
        x_px = kPad_px;
        y_ += kLegendRow_px;
      }
      const double middle_px = y_ + 0.5 * kLegendRow_px;
      layout_.samples.push_back({x_px, middle_px, kSample_px, entry.kind, entry.tone});
      layout_.texts.push_back({x_px + kSample_px + 8.0, middle_px, text, TextAlign::left,
                               kTextFont_px, false, kInkColour});
      x_px += width_px;
      any = true;
    }
    if (any) y_ += kLegendRow_px;
  }

  double x_to_px(double value) const {
    const double share = (value - layout_.x.from) / (layout_.x.to - layout_.x.from);
    return left_px_ + share * (right_px_ - left_px_);
  }

  // Puts a label centred at x_px into the lowest row above the panel that has room for it.
  struct Taken {
    double from_px;
    double to_px;
  };
  struct LabelRows {
    std::vector<std::vector<Taken>> rows;
    std::vector<std::pair<std::size_t, PlacedText>> placed;  // row and text
  };

  void place_label(LabelRows& labels, double at_px, const std::string& label) const {
    const std::string text = one_line(label);
    const double half_px = 0.5 * text_width_px(text, kTickFont_px);
    const double low_px = kPad_px + half_px;
    const double high_px = std::max(low_px, layout_.width_px - kPad_px - half_px);
    const double centre_px = std::clamp(at_px, low_px, high_px);
    const Taken wanted{centre_px - half_px - 6.0, centre_px + half_px + 6.0};
    std::size_t row = 0;
    for (;; ++row) {
      if (row == labels.rows.size()) labels.rows.emplace_back();
      const bool free =
          std::none_of(labels.rows[row].begin(), labels.rows[row].end(), [&](const Taken& taken) {
            return wanted.from_px < taken.to_px && taken.from_px < wanted.to_px;
          });
      if (free) break;
    }
    labels.rows[row].push_back(wanted);
    labels.placed.push_back(
        {row, {centre_px, 0.0, text, TextAlign::centre, kTickFont_px, false, kQuietColour}});
  }

  void add_panel(std::size_t index) {
    const Panel& panel = figure_.panels[index];
    PanelBox& box = layout_.panels[index];
    add_legend(panel);
    y_ += 4.0;
    const auto title_lines =
        wrapped(axis_title(panel.y), layout_.width_px - 2.0 * kPad_px, kTickFont_px, false, 1);
    const std::string title = title_lines.empty() ? std::string() : title_lines.front();
    LabelRows labels;
    labels.rows.push_back({{0.0, kPad_px + text_width_px(title, kTickFont_px) + 8.0}});
    for (const auto& layer : panel.layers) {
      if (const auto* marker = std::get_if<VerticalMarker>(&layer)) {
        if (!marker->label.empty()) place_label(labels, x_to_px(marker->at), marker->label);
      } else if (const auto* span = std::get_if<SpanShade>(&layer)) {
        const double middle =
            0.5 * (std::max(span->from, layout_.x.from) + std::min(span->to, layout_.x.to));
        if (!span->label.empty()) place_label(labels, x_to_px(middle), span->label);
      }
    }
    y_ += kLabelRow_px * static_cast<double>(labels.rows.size()) + kLabelGap_px;
    for (auto& [row, text] : labels.placed) {
      text.y_px = y_ - kLabelGap_px - kLabelRow_px * (static_cast<double>(row) + 0.5);
      layout_.texts.push_back(text);
    }
    layout_.texts.push_back({kPad_px, y_ - kLabelGap_px - 0.5 * kLabelRow_px, title,
                             TextAlign::left, kTickFont_px, false, kQuietColour});
    box.left_px = left_px_;
    box.right_px = right_px_;
    box.top_px = y_;
    y_ += panel_height_px_ * panel.height_share;
    box.bottom_px = y_;
    y_ += index + 1 < figure_.panels.size() ? 22.0 : 0.0;
  }

  void add_x_labels() {
    y_ += 29.0;  // tick labels
    const auto title = wrapped(axis_title(figure_.x), right_px_ - left_px_, kTickFont_px, false, 1);
    layout_.texts.push_back({0.5 * (left_px_ + right_px_), y_ + 0.5 * kLabelRow_px,
                             title.empty() ? std::string() : title.front(), TextAlign::centre,
                             kTickFont_px, false, kQuietColour});
    y_ += kLabelRow_px;
  }

  const Figure& figure_;
  FigureLayout layout_;
  double panel_height_px_ = 0.0;
  double left_px_ = 0.0;
  double right_px_ = 0.0;
  double y_ = 0.0;
  std::set<std::string> explained_;
};

}  // namespace

FigureLayout lay_out(const Figure& figure) {
  ENSURE(!figure.panels.empty());
  return Composer(figure).compose();
}

}  // namespace fitting
