// The two forks against each other in one way: curves, their difference, spans and crossovers.
#include <fmt/format.h>

#include <cctype>
#include <cmath>

#include "fitting/report/comparison_report.hpp"
#include "fitting/report/numbers.hpp"
#include "fitting/report/pair_sentences.hpp"

namespace fitting {
namespace {

constexpr double kPointwise95 = 1.96;

double standard_uncertainty_N(const Side& side, Eigen::Index row) {
  double variance = side.own_covariance_N2(row, row);
  for (const auto& shared : side.shared) variance += shared.force_N[row] * shared.force_N[row];
  return std::sqrt(std::max(0.0, variance));
}

void add_curve(const Side& side, const std::string& label, Tone tone, Panel& panel) {
  Line line{label, tone, {}, {}};
  Band band{"", tone, {}, {}, {}};
  for (std::size_t i = 0; i < side.travel_m.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    const double travel_mm = 1e3 * side.travel_m[i];
    const double half_N = kPointwise95 * standard_uncertainty_N(side, row);
    line.x.push_back(travel_mm);
    line.y.push_back(side.midline_N[row]);
    band.x.push_back(travel_mm);
    band.lower.push_back(side.midline_N[row] - half_N);
    band.upper.push_back(side.midline_N[row] + half_N);
  }
  panel.layers.push_back(std::move(band));
  panel.layers.push_back(std::move(line));
}

Panel curves_panel(const ComparedPair& pair, const PairNames& names) {
  Panel panel;
  panel.y = {"Force", "N"};
  panel.y.include_zero = true;
  add_curve(pair.a, names.a, Tone::first, panel);
  add_curve(pair.b, names.b, Tone::second, panel);
  if (pair.load_N) {
    panel.layers.push_back(HorizontalMarker{rounded(*pair.load_N, 0) + " N", *pair.load_N});
  }
  const auto in_mm = [](const std::optional<Sag>& sag) {
    return sag ? std::optional<double>(1e3 * sag->travel_m) : std::nullopt;
  };
  const auto sag_a_mm = in_mm(pair.sag_a);
  const auto sag_b_mm = in_mm(pair.sag_b);
  if (sag_a_mm && sag_b_mm && std::abs(*sag_a_mm - *sag_b_mm) < 0.3) {
    panel.layers.push_back(
        VerticalMarker{"sag of both " + rounded(*sag_a_mm, 1) + " mm", *sag_a_mm});
  } else {
    if (sag_a_mm) {
      panel.layers.push_back(
          VerticalMarker{"sag of " + names.a + " " + rounded(*sag_a_mm, 1) + " mm", *sag_a_mm});
    }
    if (sag_b_mm) {
      panel.layers.push_back(
          VerticalMarker{"sag of " + names.b + " " + rounded(*sag_b_mm, 1) + " mm", *sag_b_mm});
    }
  }
  return panel;
}

Panel difference_panel(const ComparedPair& pair, const PairNames& names) {
  const Difference& difference = pair.difference;
  Panel panel;
  panel.y = {names.a + " less " + names.b, "N"};
  panel.height_share = 0.62;
  for (const auto& span : pair.spans) {
    if (span.firmer == Firmer::neither) continue;
    const bool a = span.firmer == Firmer::a;
    panel.layers.push_back(SpanShade{(a ? names.a : names.b) + " firmer",
                                     a ? Tone::first : Tone::second, 1e3 * span.from_m,
                                     1e3 * span.to_m});
  }
  panel.layers.push_back(HorizontalMarker{"", 0.0});
  Line line{"difference", Tone::difference, {}, {}};
  Band band{"95 % band of the whole difference", Tone::neutral, {}, {}, {}};
  for (Eigen::Index i = 0; i < difference.size(); ++i) {
    const double travel_mm = 1e3 * difference.travel_m[static_cast<std::size_t>(i)];
    const double half_N = difference.band_factor * difference.standard_uncertainty_N[i];
    line.x.push_back(travel_mm);
    line.y.push_back(difference.difference_N[i]);
    band.x.push_back(travel_mm);
    band.lower.push_back(difference.difference_N[i] - half_N);
    band.upper.push_back(difference.difference_N[i] + half_N);
  }
  panel.layers.push_back(std::move(band));
  panel.layers.push_back(std::move(line));
  for (const auto& crossover : pair.crossings.crossovers) {
    panel.layers.push_back(
        VerticalMarker{"crossing " + with_uncertainty(1e3 * crossover.travel_m,
                                                      1e3 * crossover.standard_uncertainty_m, "mm"),
                       1e3 * crossover.travel_m});
  }
  return panel;
}

std::string lower_start(std::string text) {
  if (!text.empty()) text[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(text[0])));
  return text;
}

std::string upper_start(std::string text) {
  if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

std::string all_spans(const ComparedPair& pair, const PairNames& names) {
  std::string text;
  for (const auto& span : pair.spans)
    text += (text.empty() ? "" : " ") + span_sentence(span, names);
  return text;
}

Figure pair_figure(const ComparedPair& pair, const PairNames& names) {
  Figure figure;
  figure.name = "compare-" + pair.id;
  figure.title = names.a + " and " + names.b + " " + lower_start(pair.heading);
  figure.subtitle = fmt::format("{}; {}: {}; {}: {}; bands hold 95 %", upper_start(pair.curves),
                                names.a, pair.setting_a, names.b, pair.setting_b);
  figure.x = {"Travel", "mm"};
  figure.x.include_zero = true;
  figure.panels = {curves_panel(pair, names), difference_panel(pair, names)};
  figure.alt = fmt::format(
      "Force against travel of {} and {} ({}), with bands, and below it their difference with a "
      "simultaneous 95 % band and a zero line. {} {}",
      names.a, names.b, pair.curves, crossing_sentence(pair, names), all_spans(pair, names));
  return figure;
}

std::string firmer_text(Firmer firmer, const PairNames& names) {
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

std::vector<std::string> span_row(const std::string& what, const Span& span,
                                  const PairNames& names) {
  const int decimals = decimals_for(span.standard_uncertainty_N);
  return {what,
          rounded(1e3 * span.from_m, 1),
          rounded(1e3 * span.to_m, 1),
          firmer_text(span.firmer, names),
          rounded(span.mean_difference_N, decimals),
          rounded(span.standard_uncertainty_N, decimals)};
}

Table spans_table(const ComparedPair& pair, const PairNames& names) {
  Table table{"spans-" + pair.id,
              "Where one is firmer (" + names.a + " less " + names.b + ")",
              {{"Stretch", ColumnKind::text},
               {"From, mm"},
               {"To, mm"},
               {"Firmer", ColumnKind::text},
               {"Difference, N"},
               {"Std. uncertainty, N"}},
              {}};
  for (std::size_t i = 0; i < pair.spans.size(); ++i) {
    table.rows.push_back(span_row(fmt::format("span {}", i + 1), pair.spans[i], names));
  }
  static constexpr const char* kThirds[] = {"first third", "middle third", "last third"};
  for (std::size_t i = 0; i < pair.thirds.size() && i < 3; ++i) {
    table.rows.push_back(span_row(kThirds[i], pair.thirds[i], names));
  }
  return table;
}

Table crossings_table(const ComparedPair& pair, const PairNames& names) {
  Table table{"crossings-" + pair.id,
              "Where the curves cross",
              {{"Crossing", ColumnKind::text},
               {"Travel, mm"},
               {"Standard uncertainty, mm"},
               {"Firmer behind it", ColumnKind::text}},
              {}};
  for (std::size_t i = 0; i < pair.crossings.crossovers.size(); ++i) {
    const auto& crossover = pair.crossings.crossovers[i];
    const int decimals = decimals_for(1e3 * crossover.standard_uncertainty_m);
    table.rows.push_back({fmt::format("{}", i + 1), rounded(1e3 * crossover.travel_m, decimals),
                          rounded(1e3 * crossover.standard_uncertainty_m, decimals),
                          crossover.a_firmer_behind ? names.a : names.b});
  }
  return table;
}

}  // namespace

Section comparison_section(const ComparisonInput& input, const ComparedPair& pair) {
  const PairNames names{input.a.label, input.b.label};
  Section section{pair.id, pair.heading, {}};
  auto& blocks = section.blocks;
  blocks.push_back(Paragraph{fmt::format(
      "The {} of {} ({}) and of {} ({}) are compared. The difference is judged from {} to {} mm, 5 "
      "to 95 % of "
      "the travel that both cover.",
      pair.curves, names.a, pair.setting_a, names.b, pair.setting_b,
      rounded(1e3 * pair.difference.from_m(), 0), rounded(1e3 * pair.difference.to_m(), 0))});
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
