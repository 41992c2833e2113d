// Why the forks differ: their difference, part by part, at every travel.
#include <fmt/format.h>

#include <cmath>

#include "fitting/compare/contributions.hpp"
#include "fitting/compare/sentences.hpp"
#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "fitting/report/pair_sentences.hpp"

namespace fitting {
namespace {

constexpr double kShown_N = 0.5;    // parts that never reach this are left out of the figure
constexpr double kListed_N = 0.05;  // ... and of the table

std::vector<double> values_of(const Eigen::VectorXd& values) {
  return {values.begin(), values.end()};
}

std::string why_text(const PairWords& words, const std::vector<ThirdExplained>& thirds) {
  const UnitScale& force = words.units.force;
  const UnitScale& travel = words.units.travel;
  std::string text;
  for (const ThirdExplained& third : thirds) {
    std::string parts;
    for (const PartMean& part : third.largest) {
      parts += fmt::format("{}{} {}{}", parts.empty() ? "" : ", ", part.name,
                           part.mean_N > 0.0 ? "+" : "", force.text(part.mean_N, 1));
    }
    text += fmt::format(
        "{}From {} to {} the compression stroke of {} is {} {} that of {}; most of it: {}.",
        text.empty() ? "" : " ", travel.number(third.from_m, 0), travel.text(third.to_m, 0),
        words.a, force.text(std::abs(third.total_N), 1), third.total_N < 0.0 ? "below" : "above",
        words.b, parts);
  }
  return text.empty() ? "Nothing makes a difference of half a newton." : text;
}

// The spring's own parts above; what comes of speed and friction, and the sum, below.
Figure contributions_figure(const ComparisonInput& input, const Contributions& all) {
  static constexpr Tone kTones[] = {Tone::first, Tone::second, Tone::third, Tone::fourth,
                                    Tone::fifth};
  Figure figure;
  figure.name = "contributions";
  figure.title = "What makes the difference";
  figure.subtitle = input.a.label + " less " + input.b.label + ", compression strokes";
  figure.x = input.units.travel.axis("Travel");
  Panel springs;
  springs.y = input.units.force.axis("Springs");
  springs.y.include_zero = true;
  springs.layers.push_back(HorizontalMarker{"", 0.0});
  Panel rest = springs;
  rest.y.label = "Rest and sum";
  const std::vector<double> travel = input.units.travel.of(all.travel_m);
  const auto forces = [&](const Eigen::VectorXd& force_N) {
    return input.units.force.of(values_of(force_N));
  };
  std::size_t tone = 0;
  std::size_t rest_tone = 0;
  for (const Contribution& part : all.parts) {
    if (part.difference_N.cwiseAbs().maxCoeff() < kShown_N) continue;
    const bool of_rest = part.name == kHeatPart || part.name == kHalfLoopPart;
    const Tone own = of_rest ? kTones[rest_tone++] : kTones[tone++ % std::size(kTones)];
    (of_rest ? rest : springs)
        .layers.push_back(Line{part.name, own, travel, forces(part.difference_N)});
  }
  rest.layers.push_back(Line{"sum of all", Tone::difference, travel, forces(all.total_N)});
  figure.panels = {springs, rest};
  return figure;
}

Table contributions_table(const Contributions& all, const std::vector<Span>& thirds,
                          const ReaderUnits& units) {
  Table table{"contributions-in-thirds",
              "Means over thirds of the compared travel, " + units.force.unit,
              {{"Part", ColumnKind::text}},
              {}};
  for (const Span& third : thirds) {
    table.columns.push_back(
        {units.travel.number(third.from_m, 0) + " to " + units.travel.text(third.to_m, 0)});
  }
  const auto add = [&](const std::string& name, const Eigen::VectorXd& part_N) {
    std::vector<std::string> row{name};
    for (const Span& third : thirds) {
      row.push_back(units.force.number(mean_between_N(all, part_N, third.from_m, third.to_m), 1));
    }
    table.rows.push_back(std::move(row));
  };
  for (const Contribution& part : all.parts) {
    if (part.difference_N.cwiseAbs().maxCoeff() >= kListed_N) add(part.name, part.difference_N);
  }
  add("sum: compression strokes", all.total_N);
  return table;
}

}  // namespace

Section contributions_section(const ComparisonInput& input) {
  Section section{"contributions", "Why they differ", {}};
  const ComparedPair* pair = pair_with_models(input);
  if (pair == nullptr) return section;
  const Contributions all = contributions_of(*pair->answer_a, *pair->answer_b);
  const std::string text = why_text(words_of(input), explain_thirds(pair->thirds, all));
  Figure figure = contributions_figure(input, all);
  figure.alt = "Parts of the difference against travel. " + text;
  section.blocks.push_back(Paragraph{text});
  section.blocks.push_back(std::move(figure));
  section.blocks.push_back(contributions_table(all, pair->thirds, input.units));
  section.blocks.push_back(
      Note{NoteKind::remark,
           "Heat of the gas is what the midline of a cycle lies above the slow spring, the "
           "half-loop what the stroke lies above the midline. The parts add up at every travel."});
  return section;
}

}  // namespace fitting
