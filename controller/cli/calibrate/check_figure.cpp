#include "controller/cli/calibrate/check_figure.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "controller/cli/answers/draw_figure.hpp"
#include "fitting/report/numbers.hpp"

namespace controller::cli {

using calibration::ControlChart;
using calibration::ControlPoint;
using calibration::ControlSignal;
using fitting::Figure;
using fitting::HorizontalMarker;
using fitting::Line;
using fitting::Points;
using fitting::Tone;
using protocol::Result;

namespace {

// What the newest check is judged by.
struct Judges {
  double lower_N = 0.0;
  double centre_N = 0.0;
  double upper_N = 0.0;
  // Where the drawing ends: one wild check must not press all others into a line.
  double bottom_N() const { return lower_N - (upper_N - lower_N); }
  double top_N() const { return upper_N + (upper_N - lower_N); }
  // Inside the frame, or the mark would not be seen.
  double drawn_N(double difference_N) const {
    const double margin_N = 0.1 * (upper_N - lower_N);
    return std::clamp(difference_N, bottom_N() + margin_N, top_N() - margin_N);
  }
};

Judges judges_of(const ControlChart& chart) {
  const double half_N = chart.certificate_half_width_N;
  if (!chart.limits) return {-half_N, 0.0, half_N};
  return {chart.limits->lower, chart.limits->centre, chart.limits->upper};
}

void add_limits(const ControlChart& chart, fitting::Panel& panel) {
  const Judges judges = judges_of(chart);
  panel.y.from = judges.bottom_N();
  panel.y.to = judges.top_N();
  panel.layers.emplace_back(HorizontalMarker{"upper limit", judges.upper_N});
  panel.layers.emplace_back(
      HorizontalMarker{chart.limits ? "centre" : "known load", judges.centre_N});
  panel.layers.emplace_back(HorizontalMarker{"lower limit", judges.lower_N});
}

void add_checks(const ControlChart& chart, fitting::Panel& panel) {
  Line line{"", Tone::neutral, {}, {}};
  Points good{"within", Tone::first, {}, {}};
  Points bad{"outside a limit", Tone::second, {}, {}};
  Points drifting{"eight on one side", Tone::third, {}, {}};
  Points wild{"beyond the edge that it is drawn at", Tone::fourth, {}, {}};
  const Judges judges = judges_of(chart);
  for (size_t i = 0; i < chart.points.size(); ++i) {
    const double x = static_cast<double>(i + 1);
    const double difference_N = chart.points[i].difference_N();
    const double y = judges.drawn_N(difference_N);
    line.x.push_back(x);
    line.y.push_back(y);
    Points& marks = y != difference_N                             ? wild
                    : chart.signals[i] == ControlSignal::none     ? good
                    : chart.signals[i] == ControlSignal::one_side ? drifting
                                                                  : bad;
    marks.x.push_back(x);
    marks.y.push_back(y);
  }
  panel.layers.emplace_back(std::move(line));
  for (Points* marks : {&good, &bad, &drifting, &wild}) {
    if (!marks->x.empty()) panel.layers.emplace_back(std::move(*marks));
  }
}

}  // namespace

Figure check_figure(const ControlChart& chart) {
  const ControlPoint& newest = chart.points.back();
  Figure figure;
  figure.name = "checks";
  figure.title = fmt::format("Checks with {} N", fitting::rounded(newest.load_N, 1));
  figure.subtitle =
      fmt::format("Certificate {}, {} to {}; limits {}", newest.certificate_id.substr(0, 12),
                  chart.points.front().time.substr(0, 10), newest.time.substr(0, 10),
                  chart.limits ? fmt::format("of {} checks", chart.limits->points)
                               : std::string("of the certificate"));
  figure.x = {"Check", ""};
  figure.x.from = 0.0;
  figure.x.to = static_cast<double>(chart.points.size() + 1);
  fitting::Panel panel;
  panel.y = {"Measured less known load", "N"};
  add_limits(chart, panel);
  add_checks(chart, panel);
  figure.panels = {panel};
  figure.alt = fmt::format("Measured less known load for {} checks in order; the newest is {} N.",
                           chart.points.size(), fitting::rounded(newest.difference_N(), 2));
  return figure;
}

Result<void> write_check_figure(protocol::FileSystem& files, const ControlChart& chart,
                                const std::filesystem::path& path) {
  const Result<std::string> drawing = draw_figure(check_figure(chart));
  if (!drawing) return drawing.error();
  return protocol::write_new_file(files, path, *drawing);
}

}  // namespace controller::cli
