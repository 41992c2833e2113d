// What each fork's loop is made of: friction, its turning round, the gas's heat, the damper.
#include <fmt/format.h>

#include <cmath>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "fitting/report/pair_sentences.hpp"

namespace fitting {
namespace {

constexpr double kShownShares[] = {0.1, 0.25, 0.5, 0.75, 0.9};
constexpr double kSaid_N = 0.05;  // parts that are less in both are not worth a word
constexpr double kSaid_J = 0.05;

bool acts(const LoopPart& part) {
  for (double force_N : part.force_N) {
    if (std::abs(force_N) > 1e-9) return true;
  }
  return false;
}

std::string split_text(const LoopSplit& split, const ReaderUnits& units) {
  const UnitScale& force = units.force;
  const std::size_t mid = split.travel_m.size() / 2;
  const std::string whole = fmt::format(
      "half the loop is {} wide at {}, and a cycle takes {}", force.text(split.half_loop_N[mid], 1),
      units.travel.text(split.travel_m[mid], 0), units.energy.text(split.loss_J, 1));
  if (!split.told_apart) {
    return whole + "; without a clock friction and the gas's heat in it cannot be told apart.";
  }
  std::string parts;
  for (const LoopPart& part : split.parts) {
    if (std::abs(part.force_N[mid]) < kSaid_N && std::abs(part.loss_J) < kSaid_J) continue;
    parts += fmt::format("{}{} {} and {}", parts.empty() ? "" : ", ", part.name,
                         force.text(part.force_N[mid], 1), units.energy.text(part.loss_J, 1));
  }
  return whole + ": " + parts + ".";
}

Figure split_figure(const ReportFork& fork, const ReaderUnits& units) {
  static constexpr Tone kTones[] = {Tone::first, Tone::fourth, Tone::second, Tone::third};
  const LoopSplit& split = *fork.loop_split;
  Figure figure;
  figure.name = "loop-split-" + fork.key;
  figure.size = FigureSize::half;
  figure.title = fork.label + ": parts of the half-loop";
  figure.subtitle = fork.loop_setting;
  figure.x = units.travel.axis("Travel");
  Panel panel;
  panel.y = units.force.axis("Force");
  panel.layers.push_back(HorizontalMarker{"", 0.0});
  const std::vector<double> travel = units.travel.of(split.travel_m);
  panel.layers.push_back(
      Line{"half-loop", Tone::simulated, travel, units.force.of(split.half_loop_N)});
  std::size_t tone = 0;
  for (const LoopPart& part : split.parts) {
    const Tone its = kTones[tone++ % std::size(kTones)];
    if (!acts(part)) continue;
    panel.layers.push_back(Line{part.name, its, travel, units.force.of(part.force_N)});
  }
  figure.panels = {panel};
  figure.alt = "Parts of half the loop's width against travel: " + split_text(split, units);
  return figure;
}

Table split_table(const ReportFork& fork, const ReaderUnits& units) {
  const LoopSplit& split = *fork.loop_split;
  Table table{
      "loop-parts-" + fork.key,
      fork.label + ": half the loop's width and its parts, " + fork.loop_setting,
      {{units.travel.heading("Travel"), ColumnKind::text}, {units.force.heading("Half-loop")}},
      {}};
  for (const LoopPart& part : split.parts) {
    if (acts(part)) table.columns.push_back({units.force.heading(part.name)});
  }
  for (double share : kShownShares) {
    const double at_m = share * split.travel_m.back();
    std::vector<std::string> row{
        units.travel.number(at_m, 0),
        units.force.number(value_at(split.travel_m, split.half_loop_N, at_m), 1)};
    for (const LoopPart& part : split.parts) {
      if (!acts(part)) continue;
      row.push_back(units.force.number(value_at(split.travel_m, part.force_N, at_m), 1));
    }
    table.rows.push_back(std::move(row));
  }
  std::vector<std::string> loss{units.energy.heading("Loss per cycle"),
                                units.energy.number(split.loss_J, 2)};
  for (const LoopPart& part : split.parts) {
    if (acts(part)) loss.push_back(units.energy.number(part.loss_J, 2));
  }
  table.rows.push_back(std::move(loss));
  return table;
}

}  // namespace

Section loop_split_section(const ComparisonInput& input) {
  Section section{"loop-split", "What the loop is made of", {}};
  std::string words;
  for (const ReportFork* fork : {&input.a, &input.b}) {
    if (!fork->loop_split) continue;
    words += (words.empty() ? "" : " ") + fork->label + ", " + fork->loop_setting + ": " +
             split_text(*fork->loop_split, input.units);
  }
  if (words.empty()) return section;
  section.blocks.push_back(
      Paragraph{words + " Half the loop's width is friction only in a fork without air: near a "
                        "reversal friction is still turning round, and a faster or slower cycle "
                        "would hold another share of heat."});
  for (const ReportFork* fork : {&input.a, &input.b}) {
    if (fork->loop_split) section.blocks.push_back(split_figure(*fork, input.units));
  }
  for (const ReportFork* fork : {&input.a, &input.b}) {
    if (fork->loop_split) section.blocks.push_back(split_table(*fork, input.units));
  }
  return section;
}

}  // namespace fitting
