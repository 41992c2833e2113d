// What each fork's loop is made of: friction, its turning round, the gas's heat, the damper.
#include <cmath>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "fitting/report/pair_sentences.hpp"

namespace fitting {
namespace {

constexpr double kShownShares[] = {0.1, 0.25, 0.5, 0.75, 0.9};

bool acts(const LoopPart& part) {
  for (double force_N : part.force_N) {
    if (std::abs(force_N) > 1e-9) return true;
  }
  return false;
}

Figure split_figure(const ReportFork& fork) {
  static constexpr Tone kTones[] = {Tone::first, Tone::fourth, Tone::second, Tone::third};
  const LoopSplit& split = *fork.loop_split;
  Figure figure;
  figure.name = "loop-split-" + fork.key;
  figure.size = FigureSize::half;
  figure.title = fork.label + ": parts of the half-loop";
  figure.subtitle = fork.loop_setting;
  figure.x = {"Travel", "mm"};
  Panel panel;
  panel.y = {"Force", "N"};
  panel.layers.push_back(HorizontalMarker{"", 0.0});
  std::vector<double> travel_mm;
  for (double travel_m : split.travel_m) travel_mm.push_back(1e3 * travel_m);
  panel.layers.push_back(Line{"half-loop", Tone::simulated, travel_mm, split.half_loop_N});
  std::size_t tone = 0;
  for (const LoopPart& part : split.parts) {
    const Tone its = kTones[tone++ % std::size(kTones)];
    if (acts(part)) panel.layers.push_back(Line{part.name, its, travel_mm, part.force_N});
  }
  figure.panels = {panel};
  figure.alt = "Parts of half the loop's width against travel. " + split_sentence(split);
  return figure;
}

Table split_table(const ReportFork& fork) {
  const LoopSplit& split = *fork.loop_split;
  Table table{"loop-parts-" + fork.key,
              fork.label + ": half the loop's width and its parts, " + fork.loop_setting,
              {{"Travel, mm", ColumnKind::text}, {"Half-loop, N"}},
              {}};
  for (const LoopPart& part : split.parts) {
    if (acts(part)) table.columns.push_back({part.name + ", N"});
  }
  for (double share : kShownShares) {
    const double at_m = share * split.travel_m.back();
    std::vector<std::string> row{rounded(1e3 * at_m, 0),
                                 rounded(value_at(split.travel_m, split.half_loop_N, at_m), 1)};
    for (const LoopPart& part : split.parts) {
      if (acts(part)) row.push_back(rounded(value_at(split.travel_m, part.force_N, at_m), 1));
    }
    table.rows.push_back(std::move(row));
  }
  std::vector<std::string> loss{"Loss per cycle, J", rounded(split.loss_J, 2)};
  for (const LoopPart& part : split.parts) {
    if (acts(part)) loss.push_back(rounded(part.loss_J, 2));
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
             split_sentence(*fork->loop_split);
  }
  if (words.empty()) return section;
  section.blocks.push_back(
      Paragraph{words + " Half the loop's width is friction only in a fork without air: near a "
                        "reversal friction is still turning round, and a faster or slower cycle "
                        "would hold another share of heat."});
  for (const ReportFork* fork : {&input.a, &input.b}) {
    if (fork->loop_split) section.blocks.push_back(split_figure(*fork));
  }
  for (const ReportFork* fork : {&input.a, &input.b}) {
    if (fork->loop_split) section.blocks.push_back(split_table(*fork));
  }
  return section;
}

}  // namespace fitting
