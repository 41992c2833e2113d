// What if: the slow spring of each fork as it moves with pressure, spacers, temperature, height and
// the vent of the lower legs, one at a time.
#include <fmt/format.h>

#include <cmath>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

constexpr double kStep_m = 2e-3;
constexpr double kPressureStep_psi = 5.0;
constexpr double kWarmer_K = 15.0;
constexpr double kHeight_m = 2000.0;
constexpr double kVent_m = 0.030;

struct Branch {
  std::string label;
  PredictionRequest request;
};

struct Fan {
  std::string name;
  std::string title;
  std::vector<Branch> branches;
};

PredictionRequest pumped(PredictionRequest request, double more_psi) {
  request.pressure_gauge_Pa += protocol::from_unit(more_psi, "psi");
  return request;
}

PredictionRequest spaced(PredictionRequest request, int more) {
  request.spacers += more;
  return request;
}

// Pumped and vented in the room, then taken elsewhere.
PredictionRequest warmed(PredictionRequest request, double more_K) {
  // Gauge pressure rises with the gas: what was pumped cold is warm now.
  const double absolute_Pa = request.pressure_gauge_Pa + request.ambient_pressure_Pa;
  const double ratio = (request.temperature_K + more_K) / request.temperature_K;
  request.pressure_gauge_Pa = absolute_Pa * ratio - request.ambient_pressure_Pa;
  request.temperature_K += more_K;
  return request;
}

PredictionRequest lifted(PredictionRequest request, double up_m) {
  const double there_Pa = request.ambient_pressure_Pa * protocol::standard_atmosphere_Pa(up_m) /
                          protocol::standard_atmosphere_Pa(0.0);
  request.pressure_gauge_Pa += request.ambient_pressure_Pa - there_Pa;
  request.ambient_pressure_Pa = there_Pa;
  return request;
}

PredictionRequest vented(PredictionRequest request, double at_m) {
  request.vent.travel_m = at_m;
  return request;
}

std::vector<Fan> fans_of(const FittedModel& model, const PredictionRequest& as_set) {
  std::vector<Fan> out;
  if (protocol::has_air_spring(model.fork.kind)) {
    out.push_back({"pressure",
                   "Pressure",
                   {{"-5 psi", pumped(as_set, -kPressureStep_psi)},
                    {"+5 psi", pumped(as_set, kPressureStep_psi)}}});
    Fan spacers{"spacers", "Spacers", {{"+1", spaced(as_set, 1)}}};
    if (as_set.spacers > 0) spacers.branches.push_back({"-1", spaced(as_set, -1)});
    if (as_set.spacers == 0) spacers.branches.push_back({"+2", spaced(as_set, 2)});
    out.push_back(std::move(spacers));
  }
  out.push_back({"temperature",
                 "Temperature after pumping",
                 {{"15 °C colder", warmed(as_set, -kWarmer_K)},
                  {"15 °C warmer", warmed(as_set, kWarmer_K)}}});
  out.push_back({"height", "Height after pumping", {{"2000 m up", lifted(as_set, kHeight_m)}}});
  if (protocol::has_lower_legs(model.fork.kind)) {
    out.push_back(
        {"vent", "Vent of the lower legs", {{"vented at 30 mm", vented(as_set, kVent_m)}}});
  }
  return out;
}

std::vector<double> travels_m(const FittedModel& model) {
  std::vector<double> out;
  const double last_m = model.context.swept_travel_m;
  const int cells = static_cast<int>(last_m / kStep_m);
  for (int i = 0; i <= cells; ++i) out.push_back(last_m * i / cells);
  return out;
}

// Force gained against as set. A branch that the fork cannot be set to is left out.
Figure fan_figure(const ReportFork& fork, const PredictionRequest& as_set, const Fan& fan) {
  static constexpr Tone kTones[] = {Tone::first, Tone::second, Tone::third};
  Figure figure;
  figure.name = "what-if-" + fan.name + "-" + fork.key;
  figure.size = FigureSize::half;
  figure.title = fork.label + ": " + fan.title;
  figure.subtitle = "against " + shown_setting(as_set.pressure_gauge_Pa, as_set.spacers);
  figure.x = {"Travel", "mm"};
  Panel panel;
  panel.y = {"Force gained", "N"};
  panel.y.include_zero = true;
  panel.layers.push_back(HorizontalMarker{"", 0.0});
  const std::vector<double> travel_m = travels_m(fork.model);
  std::vector<double> travel_mm;
  for (double each_m : travel_m) travel_mm.push_back(1e3 * each_m);
  const auto base_N = slow_spring_N(fork.model, as_set, travel_m);
  std::size_t tone = 0;
  for (const Branch& branch : fan.branches) {
    const auto moved_N = slow_spring_N(fork.model, branch.request, travel_m);
    if (!base_N || !moved_N) continue;
    Line line{branch.label, kTones[tone++ % std::size(kTones)], travel_mm, {}};
    for (std::size_t i = 0; i < travel_m.size(); ++i) {
      line.y.push_back((*moved_N)[i] - (*base_N)[i]);
    }
    const std::size_t mid = line.y.size() / 2;
    figure.alt += fmt::format("{}{}: {} N at the start, {} N at half travel, {} N at the end.",
                              figure.alt.empty() ? "" : " ", branch.label, rounded(line.y[1], 0),
                              rounded(line.y[mid], 0), rounded(line.y.back(), 0));
    panel.layers.push_back(std::move(line));
  }
  figure.panels = {panel};
  return figure;
}

bool draws_something(const Figure& figure) {
  return figure.panels.front().layers.size() > 1;
}

}  // namespace

Section fans_section(const ComparisonInput& input) {
  Section section{"what-if", "What if", {}};
  std::vector<Block> figures;
  for (const ReportFork* fork : {&input.a, &input.b}) {
    if (fork->records.empty()) continue;
    const auto& setting = fork->records.front().record.metadata.setting;
    const PredictionRequest as_set =
        like_fitted(fork->model, setting.pressure_gauge_Pa, setting.spacers);
    for (const Fan& fan : fans_of(fork->model, as_set)) {
      Figure figure = fan_figure(*fork, as_set, fan);
      if (draws_something(figure)) figures.emplace_back(std::move(figure));
    }
  }
  if (figures.empty()) return section;
  section.blocks.push_back(Paragraph{
      "Each figure changes one thing and leaves the rest as tested; drawn is what the slow spring "
      "gains. Warmth and height come after pumping and venting: the air that was shut in stays."});
  for (Block& figure : figures) section.blocks.push_back(std::move(figure));
  return section;
}

}  // namespace fitting
