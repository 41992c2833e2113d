// The two forks against each other in one way: curves, their difference, spans and crossovers.
#include <fmt/format.h>

#include <cctype>
#include <cmath>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "fitting/report/pair_sentences.hpp"

namespace fitting {
namespace {

double standard_uncertainty_N(const Side& side, Eigen::Index row) {
  double variance = side.own_covariance_N2(row, row);
  for (const auto& shared : side.shared) variance += shared.force_N[row] * shared.force_N[row];
  return std::sqrt(std::max(0.0, variance));
}

// Scales of this pair's travel and of force.
struct Scales {
  UnitScale travel;
  UnitScale force;

  Scales(const ComparedPair& pair, const PairWords& names)
      : travel(travel_of(pair, names.units)), force(names.units.force) {}
};

void add_curve(const Side& side, const std::string& label, Tone tone, const Scales& scales,
               Panel& panel) {
  Line line{label, tone, {}, {}};
  Band band{"", tone, {}, {}, {}};
  for (std::size_t i = 0; i < side.travel_m.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    const double half_N = kPointwise95 * standard_uncertainty_N(side, row);
    line.x.push_back(scales.travel.of(side.travel_m[i]));
    line.y.push_back(scales.force.of(side.midline_N[row]));
    band.lower.push_back(scales.force.of(side.midline_N[row] - half_N));
    band.upper.push_back(scales.force.of(side.midline_N[row] + half_N));
  }
  band.x = line.x;
  panel.layers.push_back(std::move(band));
  panel.layers.push_back(std::move(line));
}

Panel curves_panel(const ComparedPair& pair, const PairWords& names) {
  const Scales scales(pair, names);
  Panel panel;
  panel.y = scales.force.axis("Force");
  panel.y.include_zero = true;
  add_curve(pair.a, names.a, Tone::first, scales, panel);
  add_curve(pair.b, names.b, Tone::second, scales, panel);
  if (pair.load_N) {
    panel.layers.push_back(
        HorizontalMarker{scales.force.text(*pair.load_N, 0), scales.force.of(*pair.load_N)});
  }
  const auto mark = [&](const std::optional<Sag>& sag, const std::string& whose) {
    if (!sag) return;
    panel.layers.push_back(
        VerticalMarker{"sag of " + whose + " " + names.units.travel.text(sag->travel_m, 1),
                       scales.travel.of(sag->travel_m)});
  };
  if (same_sag(pair)) {
    mark(pair.sag_a, "both");
  } else {
    mark(pair.sag_a, names.a);
    mark(pair.sag_b, names.b);
  }
  return panel;
}

Panel difference_panel(const ComparedPair& pair, const PairWords& names) {
  const Difference& difference = pair.difference;
  const Scales scales(pair, names);
  Panel panel;
  panel.y = scales.force.axis(names.a + " less " + names.b);
  panel.height_share = 0.62;
  for (const auto& span : pair.spans) {
    if (span.firmer == Firmer::neither) continue;
    const bool a = span.firmer == Firmer::a;
    panel.layers.push_back(SpanShade{(a ? names.a : names.b) + " firmer",
                                     a ? Tone::first : Tone::second, scales.travel.of(span.from_m),
                                     scales.travel.of(span.to_m)});
  }
  panel.layers.push_back(HorizontalMarker{"", 0.0});
  Line line{"difference", Tone::difference, {}, {}};
  Band band{"95 % band of the whole difference", Tone::neutral, {}, {}, {}};
  for (Eigen::Index i = 0; i < difference.size(); ++i) {
    const double half_N = difference.band_factor * difference.standard_uncertainty_N[i];
    line.x.push_back(scales.travel.of(difference.travel_m[static_cast<std::size_t>(i)]));
    line.y.push_back(scales.force.of(difference.difference_N[i]));
    band.lower.push_back(scales.force.of(difference.difference_N[i] - half_N));
    band.upper.push_back(scales.force.of(difference.difference_N[i] + half_N));
  }
  band.x = line.x;
  panel.layers.push_back(std::move(band));
  panel.layers.push_back(std::move(line));
  for (const auto& crossover : pair.crossings.crossovers) {
    panel.layers.push_back(VerticalMarker{
        "crossing " + scales.travel.doubtful(crossover.travel_m, crossover.standard_uncertainty_m),
        scales.travel.of(crossover.travel_m)});
  }
  return panel;
}

Axis travel_axis(const ComparedPair& pair, const PairWords& names) {
  if (pair.full_travel_m) return {"Travel", "% of each fork's own"};
  return names.units.travel.axis("Travel");
}

std::string lower_start(std::string text) {
  if (!text.empty()) text[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(text[0])));
  return text;
}

std::string upper_start(std::string text) {
  if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

std::string all_spans(const ComparedPair& pair, const PairWords& names) {
  std::string text;
  for (const auto& span : pair.spans) {
    text += (text.empty() ? "" : " ") + span_sentence(span, names, travel_of(pair, names.units));
  }
  return text;
}

Figure pair_figure(const ComparedPair& pair, const PairWords& names) {
  Figure figure;
  figure.name = "compare-" + pair.id;
  figure.title = names.a + " and " + names.b + " " + lower_start(pair.heading);
  figure.subtitle = fmt::format("{}; {}: {}; {}: {}; bands hold 95 %", upper_start(pair.curves),
                                names.a, pair.setting_a, names.b, pair.setting_b);
  figure.x = travel_axis(pair, names);
  figure.x.include_zero = true;
  figure.panels = {curves_panel(pair, names), difference_panel(pair, names)};
  figure.alt = fmt::format(
      "Force against travel of {} and {} ({}), with bands, and below it their difference with a "
      "simultaneous 95 % band and a zero line. {} {}",
      names.a, names.b, pair.curves, crossing_sentence(pair, names), all_spans(pair, names));
  return figure;
}

std::string firmer_text(Firmer firmer, const PairWords& names) {
  switch (firmer) {
    case Firmer::a:
      return names.a;
    case Firmer::b:
      return names.b;
    case Firmer::neither:
      return "no difference resolved";
  }
  return "";
}

std::vector<std::string> span_row(const std::string& what, const Span& span, const PairWords& names,
                                  const Scales& scales) {
  const auto [mean, uncertainty] =
      scales.force.cells(span.mean_difference_N, span.standard_uncertainty_N);
  return {what,
          scales.travel.number(span.from_m, 1),
          scales.travel.number(span.to_m, 1),
          firmer_text(span.firmer, names),
          mean,
          uncertainty};
}

Table spans_table(const ComparedPair& pair, const PairWords& names) {
  const Scales scales(pair, names);
  Table table{"spans-" + pair.id,
              "Where one is firmer (" + names.a + " less " + names.b + ")",
              {{"Stretch", ColumnKind::text},
               {scales.travel.heading("From")},
               {scales.travel.heading("To")},
               {"Firmer", ColumnKind::text},
               {scales.force.heading("Difference")},
               {scales.force.heading("Std. uncertainty")}},
              {}};
  for (std::size_t i = 0; i < pair.spans.size(); ++i) {
    table.rows.push_back(span_row(fmt::format("span {}", i + 1), pair.spans[i], names, scales));
  }
  static constexpr const char* kThirds[] = {"first third", "middle third", "last third"};
  for (std::size_t i = 0; i < pair.thirds.size() && i < 3; ++i) {
    table.rows.push_back(span_row(kThirds[i], pair.thirds[i], names, scales));
  }
  return table;
}

Table crossings_table(const ComparedPair& pair, const PairWords& names) {
  const UnitScale travel = travel_of(pair, names.units);
  Table table{"crossings-" + pair.id,
              "Where the curves cross",
              {{"Crossing", ColumnKind::text},
               {travel.heading("Travel")},
               {travel.heading("Standard uncertainty")},
               {"Firmer behind it", ColumnKind::text}},
              {}};
  for (std::size_t i = 0; i < pair.crossings.crossovers.size(); ++i) {
    const auto& crossover = pair.crossings.crossovers[i];
    const auto [place, uncertainty] =
        travel.cells(crossover.travel_m, crossover.standard_uncertainty_m);
    table.rows.push_back({fmt::format("{}", i + 1), place, uncertainty,
                          crossover.a_firmer_behind ? names.a : names.b});
  }
  return table;
}

}  // namespace

Section comparison_section(const ComparisonInput& input, const ComparedPair& pair) {
  const PairWords names = words_of(input);
  const UnitScale travel = travel_of(pair, names.units);
  Section section{pair.id, pair.heading, {}};
  auto& blocks = section.blocks;
  blocks.push_back(Paragraph{fmt::format(
      "The {} of {} ({}) and of {} ({}) are compared. The difference is judged from {} to {}, 5 to "
      "95 % of what both cover.",
      pair.curves, names.a, pair.setting_a, names.b, pair.setting_b,
      travel.number(pair.difference.from_m(), 0), travel.text(pair.difference.to_m(), 0))});
  const std::string sag = sag_sentence(pair, names);
  if (!sag.empty()) {
    blocks.push_back(
        Paragraph{pair.load_source.empty() ? sag : sag + " The load: " + pair.load_source + "."});
  }
  blocks.push_back(Paragraph{all_spans(pair, names) + " " + crossing_sentence(pair, names)});
  blocks.push_back(pair_figure(pair, names));
  blocks.push_back(spans_table(pair, names));
  if (!pair.crossings.crossovers.empty()) blocks.push_back(crossings_table(pair, names));
  for (const auto& remark : pair.remarks) blocks.push_back(Note{NoteKind::remark, remark});
  return section;
}

}  // namespace fitting
