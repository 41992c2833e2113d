#include "controller/cli/check_figure.hpp"

#include <fmt/format.h>

#include "controller/cli/gnuplot_runner.hpp"
#include "fitting/report/finished_svg.hpp"
#include "fitting/report/gnuplot_script.hpp"
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

// The three lines that the newest check is judged by.
void add_limits(const ControlChart& chart, fitting::Panel& panel) {
  const double half_N = chart.certificate_half_width_N;
  const double centre_N = chart.limits ? chart.limits->centre : 0.0;
  panel.layers.emplace_back(
      HorizontalMarker{"upper limit", chart.limits ? chart.limits->upper : half_N});
  panel.layers.emplace_back(HorizontalMarker{chart.limits ? "centre" : "known load", centre_N});
  panel.layers.emplace_back(
      HorizontalMarker{"lower limit", chart.limits ? chart.limits->lower : -half_N});
}

void add_checks(const ControlChart& chart, fitting::Panel& panel) {
  Line line{"", Tone::neutral, {}, {}};
  Points good{"within", Tone::first, {}, {}};
  Points bad{"outside a limit", Tone::second, {}, {}};
  Points drifting{"eight on one side", Tone::third, {}, {}};
  for (size_t i = 0; i < chart.points.size(); ++i) {
    const double x = static_cast<double>(i + 1);
    const double y = chart.points[i].difference_N();
    line.x.push_back(x);
    line.y.push_back(y);
    Points& marks = chart.signals[i] == ControlSignal::none       ? good
                    : chart.signals[i] == ControlSignal::one_side ? drifting
                                                                  : bad;
    marks.x.push_back(x);
    marks.y.push_back(y);
  }
  panel.layers.emplace_back(std::move(line));
  for (Points* marks : {&good, &bad, &drifting}) {
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
  const Figure figure = check_figure(chart);
  const Result<std::string> drawing =
      run_gnuplot(fitting::gnuplot_script(figure, fitting::Terminal::svg));
  if (!drawing) return drawing.error();
  return protocol::write_new_file(files, path, fitting::finished_svg(*drawing, figure));
}

}  // namespace controller::cli
