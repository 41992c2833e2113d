// What if: the slow spring of each fork as it moves with pressure, spacers, temperature, height and
// the vent of the lower legs, one at a time.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

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
constexpr double kTop_m = 0.020;  // where the end of extension is looked for
constexpr int kTopCells = 200;

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

std::vector<Fan> fans_of(const FittedModel& model, const PredictionRequest& as_set,
                         const ReaderUnits& units) {
  const std::string warmer = units.system == UnitSystem::metric ? "15 °C" : "27 °F";
  std::vector<Fan> out;
  if (protocol::has_air_spring(model.fork.kind)) {
    out.push_back({"pressure",
                   "Pressure",
                   {{"\u22125 psi", pumped(as_set, -kPressureStep_psi)},
                    {"+5 psi", pumped(as_set, kPressureStep_psi)}}});
    Fan spacers{"spacers", "Spacers", {{"+1", spaced(as_set, 1)}}};
    if (as_set.spacers > 0) spacers.branches.push_back({"\u22121", spaced(as_set, -1)});
    if (as_set.spacers == 0) spacers.branches.push_back({"+2", spaced(as_set, 2)});
    out.push_back(std::move(spacers));
  }
  out.push_back({"temperature",
                 "Temperature after pumping",
                 {{warmer + " colder", warmed(as_set, -kWarmer_K)},
                  {warmer + " warmer", warmed(as_set, kWarmer_K)}}});
  out.push_back({"height",
                 "Height after pumping",
                 {{units.distance.text(kHeight_m, 0) + " up", lifted(as_set, kHeight_m)}}});
  if (protocol::has_lower_legs(model.fork.kind)) {
    out.push_back({"vent",
                   "Vent of the lower legs",
                   {{"vented at " + units.travel.text(kVent_m, 0), vented(as_set, kVent_m)}}});
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
Figure fan_figure(const ReportFork& fork, const PredictionRequest& as_set, const Fan& fan,
                  const ReaderUnits& units) {
  static constexpr Tone kTones[] = {Tone::first, Tone::second, Tone::third};
  Figure figure;
  figure.name = "what-if-" + fan.name + "-" + fork.key;
  figure.size = FigureSize::half;
  figure.title = fork.label + ": " + fan.title;
  figure.subtitle = "against " + shown_setting(as_set.pressure_gauge_Pa, as_set.spacers);
  figure.x = units.travel.axis("Travel");
  Panel panel;
  panel.y = units.force.axis("Force gained");
  panel.y.include_zero = true;
  panel.layers.push_back(HorizontalMarker{"", 0.0});
  const std::vector<double> travel_m = travels_m(fork.model);
  const std::vector<double> travel = units.travel.of(travel_m);
  const auto base_N = slow_spring_N(fork.model, as_set, travel_m);
  std::size_t tone = 0;
  for (const Branch& branch : fan.branches) {
    const auto moved_N = slow_spring_N(fork.model, branch.request, travel_m);
    if (!base_N || !moved_N) continue;
    Line line{branch.label, kTones[tone++ % std::size(kTones)], travel, {}};
    for (std::size_t i = 0; i < travel_m.size(); ++i) {
      line.y.push_back(units.force.of((*moved_N)[i] - (*base_N)[i]));
    }
    const std::size_t mid = line.y.size() / 2;
    figure.alt += fmt::format(
        "{}{}: {} {unit} at the start, {} {unit} at half travel, {} {unit} at the "
        "end.",
        figure.alt.empty() ? "" : " ", branch.label, rounded(line.y[1], 0), rounded(line.y[mid], 0),
        rounded(line.y.back(), 0), fmt::arg("unit", units.force.unit));
    panel.layers.push_back(std::move(line));
  }
  figure.panels = {panel};
  return figure;
}

// What venting in the travel costs at the top: the lower legs pull the fork in.
std::string vent_sentence(const ReportFork& fork, const PredictionRequest& as_set,
                          const ReaderUnits& units) {
  if (!protocol::has_lower_legs(fork.model.fork.kind)) return "";
  const auto rests_at_m = [&](const PredictionRequest& request) -> std::optional<double> {
    std::vector<double> travel_m;
    for (int i = 0; i <= kTopCells; ++i) travel_m.push_back(kTop_m * i / kTopCells);
    const auto force_N = slow_spring_N(fork.model, request, travel_m);
    if (!force_N) return std::nullopt;
    for (std::size_t i = 0; i < travel_m.size(); ++i) {
      if ((*force_N)[i] > 0.0) return travel_m[i];
    }
    return std::nullopt;
  };
  const std::optional<double> usual_m = rests_at_m(as_set);
  const std::optional<double> vented_m = rests_at_m(vented(as_set, kVent_m));
  if (!usual_m || !vented_m) return "";
  const double lost_m = std::max(0.0, *vented_m - *usual_m);
  return fmt::format(" Vented at {}, {} {}.", units.travel.text(kVent_m, 0), fork.label,
                     lost_m < kTop_m / kTopCells
                         ? "still extends as far"
                         : "no longer extends its last " + units.travel.text(lost_m, 1));
}

bool draws_something(const Figure& figure) {
  return figure.panels.front().layers.size() > 1;
}

}  // namespace

Section fans_section(const ComparisonInput& input) {
  Section section{"what-if", "What if", {}};
  std::vector<Figure> figures_a;
  std::vector<Figure> figures_b;
  std::string vents;
  for (const ReportFork* fork : {&input.a, &input.b}) {
    if (fork->records.empty()) continue;
    const auto& setting = fork->records.front().record.metadata.setting;
    const PredictionRequest as_set =
        like_fitted(fork->model, setting.pressure_gauge_Pa, setting.spacers);
    vents += vent_sentence(*fork, as_set, input.units);
    for (const Fan& fan : fans_of(fork->model, as_set, input.units)) {
      Figure figure = fan_figure(*fork, as_set, fan, input.units);
      if (draws_something(figure)) {
        (fork == &input.a ? figures_a : figures_b).push_back(std::move(figure));
      }
    }
  }
  if (figures_a.empty() && figures_b.empty()) return section;
  section.blocks.push_back(Paragraph{
      "Each figure changes one thing and leaves the rest as tested; drawn is what the slow spring "
      "gains. Warmth and height come after pumping and venting: the air that was shut in stays." +
      vents});
  // The same change of both forks side by side.
  for (std::size_t i = 0; i < std::max(figures_a.size(), figures_b.size()); ++i) {
    for (std::vector<Figure>* figures : {&figures_a, &figures_b}) {
      if (i < figures->size()) section.blocks.push_back(std::move((*figures)[i]));
    }
  }
  return section;
}

}  // namespace fitting
