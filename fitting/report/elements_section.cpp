// What each element of a fork contributes to its slow spring.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "fitting/report/pair_sentences.hpp"

namespace fitting {
namespace {

constexpr double kShownShares[] = {0.25, 0.5, 0.75, 0.95};
constexpr double kFirstShown_m = 0.010;

// What acts nowhere is not listed.
std::vector<ElementForce> acting(const Prediction& answer) {
  std::vector<ElementForce> out;
  for (const ElementForce& element : answer.elements) {
    const bool acts = std::any_of(element.force_N.begin(), element.force_N.end(),
                                  [](double force_N) { return std::abs(force_N) >= 0.05; });
    if (acts) out.push_back(element);
  }
  return out;
}

// One fork's answer with its sag.
struct Shown {
  const Prediction& answer;
  const std::optional<Sag>& sag;
};

// 10 mm, sag, and some shares of the travel that the prediction covers, ascending.
std::vector<double> shown_travels_m(const Shown& shown) {
  const double last_m = shown.answer.travel_m.back();
  std::vector<double> travels{kFirstShown_m};
  if (shown.sag) travels.push_back(shown.sag->travel_m);
  for (double share : kShownShares) travels.push_back(share * last_m);
  std::sort(travels.begin(), travels.end());
  return travels;
}

Table elements_table(const ReportFork& fork, const Shown& shown, const std::string& setting,
                     const ReaderUnits& units) {
  const UnitScale& force = units.force;
  const Prediction& answer = shown.answer;
  Table table{"element-parts-" + fork.key,
              fork.label + " at " + setting + ": parts of the slow spring",
              {{units.travel.heading("Travel"), ColumnKind::text}},
              {}};
  const std::vector<ElementForce> elements = acting(answer);
  for (const auto& element : elements) table.columns.push_back({force.heading(element.name)});
  table.columns.push_back({force.heading("Slow spring")});
  table.columns.push_back({force.heading("Standard uncertainty")});
  for (double at_m : shown_travels_m(shown)) {
    std::string travel = units.travel.number(at_m, 1);
    if (shown.sag && at_m == shown.sag->travel_m) travel += " (sag)";
    std::vector<std::string> row{travel};
    for (const auto& element : elements) {
      row.push_back(force.number(value_at(answer.travel_m, element.force_N, at_m), 1));
    }
    row.push_back(force.number(value_at(answer.travel_m, answer.spring_N, at_m), 1));
    row.push_back(
        force.number(value_at(answer.travel_m, answer.spring_standard_uncertainty_N, at_m), 1));
    table.rows.push_back(std::move(row));
  }
  return table;
}

std::string element_sentence(const ReportFork& fork, const Prediction& answer,
                             const ReaderUnits& units) {
  const double at_m = kFirstShown_m;
  std::string parts;
  for (const auto& element : answer.elements) {
    const double force_N = value_at(answer.travel_m, element.force_N, at_m);
    if (std::abs(force_N) < 0.5) continue;
    if (!parts.empty()) parts += ", ";
    parts += units.force.text(force_N, 0) + " from the " + element.name;
  }
  return fmt::format("At {} {} carries {} slowly: {}.", units.travel.text(at_m, 0), fork.label,
                     units.force.text(value_at(answer.travel_m, answer.spring_N, at_m), 0), parts);
}

struct ForceRange {
  double low_N = std::numeric_limits<double>::infinity();
  double high_N = -std::numeric_limits<double>::infinity();

  void add(const Prediction& answer) {
    for (const auto& element : answer.elements) {
      for (double force_N : element.force_N) {
        low_N = std::min(low_N, force_N);
        high_N = std::max(high_N, force_N);
      }
    }
  }
};

Figure elements_figure(const ReportFork& fork, const Shown& shown, const std::string& setting,
                       const ForceRange& range, const ReaderUnits& units) {
  static constexpr Tone kTones[] = {Tone::first, Tone::second, Tone::third, Tone::fourth,
                                    Tone::fifth};
  Figure figure;
  figure.name = "elements-" + fork.key;
  figure.size = FigureSize::half;
  figure.title = fork.label + ": parts of the slow spring";
  figure.subtitle = setting;
  figure.x = units.travel.axis("Travel");
  Panel panel;
  panel.y = units.force.axis("Force");
  panel.layers.push_back(HorizontalMarker{"", 0.0});
  // Both figures share their scale, so that they can be compared at a glance.
  panel.y.from = units.force.of(std::min(0.0, range.low_N));
  panel.y.to = units.force.of(range.high_N);
  const std::vector<double> travel = units.travel.of(shown.answer.travel_m);
  std::size_t tone = 0;
  for (const auto& element : acting(shown.answer)) {
    panel.layers.push_back(Line{element.name, kTones[tone++ % std::size(kTones)], travel,
                                units.force.of(element.force_N)});
  }
  figure.panels = {panel};
  figure.alt =
      "Parts of the slow spring against travel. " + element_sentence(fork, shown.answer, units);
  return figure;
}

}  // namespace

Section elements_section(const ComparisonInput& input) {
  Section section{"elements", "Where the force comes from", {}};
  const ComparedPair* pair = pair_with_models(input);
  if (pair == nullptr) return section;
  ForceRange range;
  range.add(*pair->answer_a);
  range.add(*pair->answer_b);
  const Shown shown_a{*pair->answer_a, pair->sag_a};
  const Shown shown_b{*pair->answer_b, pair->sag_b};
  auto& blocks = section.blocks;
  blocks.push_back(Paragraph{element_sentence(input.a, *pair->answer_a, input.units) + " " +
                             element_sentence(input.b, *pair->answer_b, input.units) +
                             " The parts add up to the slow spring at every travel."});
  blocks.push_back(elements_figure(input.a, shown_a, pair->setting_a, range, input.units));
  blocks.push_back(elements_figure(input.b, shown_b, pair->setting_b, range, input.units));
  blocks.push_back(elements_table(input.a, shown_a, pair->setting_a, input.units));
  blocks.push_back(elements_table(input.b, shown_b, pair->setting_b, input.units));
  return section;
}

}  // namespace fitting
