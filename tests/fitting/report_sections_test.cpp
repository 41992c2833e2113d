// What the sections say, against the numbers that they were given.
#include <catch2/catch.hpp>
#include <cmath>

#include "fitting/report/pair_sentences.hpp"
#include "tests/fitting/report_parts.hpp"
#include "tests/fitting/report_sample.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using tests::figure_in;
using tests::table_in;

namespace {

const ComparisonInput& sample() {
  static const ComparisonInput input = tests::sample_comparison();
  return input;
}

template <class T>
std::vector<const T*> layers_of(const Panel& panel) {
  std::vector<const T*> found;
  for (const auto& layer : panel.layers) {
    if (const auto* each = std::get_if<T>(&layer)) found.push_back(each);
  }
  return found;
}

}  // namespace

TEST_CASE("report sections: a parameter that is not determined shows no number but its reason",
          "[fit]") {
  const Section section = parameters_section(sample());
  const Table& table = table_in(section, "parameters-a");
  const auto found = std::find_if(table.rows.begin(), table.rows.end(), [](const auto& row) {
    return row.front().starts_with("Lower leg volume");
  });
  REQUIRE(found != table.rows.end());
  CHECK((*found)[1] == "–");
  CHECK((*found)[2] == "–");
  CHECK_THAT((*found)[4], Contains("not determined: its part of the force is smaller"));
}

TEST_CASE("report sections: a parameter shows its total and its statistical uncertainty", "[fit]") {
  const Section section = parameters_section(sample());
  const Table& table = table_in(section, "parameters-a");
  CHECK(table.rows.front() ==
        std::vector<std::string>{"Positive volume, cm³", "205.0", "1.9", "0.21", "fitted"});
}

TEST_CASE("report sections: the loop figure draws measured and simulated, and what is left",
          "[fit]") {
  const Section section = loops_section(sample());
  const Figure& figure = figure_in(section, "loop-a-1");
  REQUIRE(figure.panels.size() == 2);
  const auto curves = layers_of<Line>(figure.panels[0]);
  REQUIRE(curves.size() == 2);
  CHECK(curves[0]->tone == Tone::measured);
  CHECK(curves[1]->tone == Tone::simulated);
  // The conditioning cycle is left out; the row at its last turn belongs to it.
  CHECK(curves[0]->x.size() == 4 * 731 - 1);
  // The pattern that the sample hides in the record: 1.1 N times a sine of travel over 11 mm.
  const auto residuals = layers_of<Line>(figure.panels[1]);
  REQUIRE(residuals.size() == 2);
  const Line& compression = *residuals[0];
  double squares = 0.0;
  for (std::size_t i = 0; i < compression.x.size(); ++i) {
    squares += std::pow(compression.y[i] - 1.1 * std::sin(compression.x[i] / 11.0), 2);
  }
  // Noise of 1.5 N over some twenty rows a bin is 0.34 N; the pattern itself would be 0.8 N.
  CHECK(std::sqrt(squares / static_cast<double>(compression.x.size())) < 0.5);
}

TEST_CASE("report sections: elements add up to the slow spring in every row", "[fit]") {
  const Section section = elements_section(sample());
  for (const char* name : {"element-parts-a", "element-parts-b"}) {
    const Table& table = table_in(section, name);
    REQUIRE(table.rows.size() == 6);
    for (const auto& row : table.rows) {
      const auto number = [](std::string text) {
        if (text.starts_with("\u2212")) text = "-" + text.substr(3);
        return std::stod(text);
      };
      const double sum = number(row[1]) + number(row[2]) + number(row[3]) + number(row[4]);
      CAPTURE(row[0]);
      CHECK_THAT(sum, WithinAbs(number(row[5]), 0.25));  // five numbers rounded to 0.1
    }
  }
}

TEST_CASE("report sections: the comparison shades what is firmer and marks zero and crossings",
          "[fit]") {
  const ComparedPair& pair = sample().pairs.front();
  const Section section = comparison_section(sample(), pair);
  const Figure& figure = figure_in(section, "compare-matched-sag");
  REQUIRE(figure.panels.size() == 2);
  CHECK(layers_of<Band>(figure.panels[0]).size() == 2);
  const Panel& difference = figure.panels[1];
  const auto firmer = std::count_if(pair.spans.begin(), pair.spans.end(), [](const Span& span) {
    return span.firmer != Firmer::neither;
  });
  REQUIRE(firmer > 0);
  CHECK(layers_of<SpanShade>(difference).size() == static_cast<std::size_t>(firmer));
  REQUIRE(layers_of<HorizontalMarker>(difference).size() == 1);
  CHECK(layers_of<HorizontalMarker>(difference).front()->at == 0.0);
  CHECK(layers_of<VerticalMarker>(difference).size() == pair.crossings.crossovers.size());
  const Band& band = *layers_of<Band>(difference).front();
  const double width = band.upper[10] - band.lower[10];
  CHECK_THAT(width, Catch::Matchers::WithinRel(2.0 * pair.difference.band_factor *
                                                   pair.difference.standard_uncertainty_N[10],
                                               1e-12));  // the same product
}

TEST_CASE("report sections: the spans' table holds spans and thirds with their doubt", "[fit]") {
  const ComparedPair& pair = sample().pairs.front();
  const Section section = comparison_section(sample(), pair);
  const Table& table = table_in(section, "spans-matched-sag");
  CHECK(table.rows.size() == pair.spans.size() + 3);
}

TEST_CASE("report sentences: which is firmer, where and by how much", "[fit]") {
  const PairWords names{"Larch", "Basalt"};
  CHECK(span_sentence({0.034, 0.071, Firmer::a, 12.34, 2.1}, names, names.units.travel) ==
        "Larch is firmer from 34 to 71 mm, by 12.3 ± 2.1 N on average.");
  CHECK(span_sentence({0.034, 0.071, Firmer::b, -12.34, 2.1}, names, names.units.travel) ==
        "Basalt is firmer from 34 to 71 mm, by 12.3 ± 2.1 N on average.");
  CHECK(span_sentence({0.071, 0.093, Firmer::neither, 0.4, 2.1}, names, names.units.travel) ==
        "From 71 to 93 mm no difference is resolved.");
}

TEST_CASE("report sentences: crossings found, none, and none that can be placed", "[fit]") {
  const PairWords names{"Larch", "Basalt"};
  ComparedPair pair = sample().pairs.front();
  pair.crossings = {{{0.0612, 0.0015, true}, {0.1203, 0.0021, false}}, 0};
  CHECK(crossing_sentence(pair, names) ==
        "The two curves cross at 61.2 ± 1.5 mm; behind that Larch is the firmer one. They cross "
        "again at 120.3 ± 2.1 mm; behind that Basalt is the firmer one.");
  pair.crossings = {{}, 0};
  CHECK_THAT(crossing_sentence(pair, names), Contains("do not cross between 7 and 139 mm"));
  pair.crossings = {{}, 2};
  CHECK_THAT(crossing_sentence(pair, names), Contains("no crossing can be placed"));
}

TEST_CASE("report sentences: the leading span is the one of most force over most travel", "[fit]") {
  ComparedPair pair;
  pair.spans = {{0.0, 0.1, Firmer::neither, 90.0, 50.0},
                {0.1, 0.11, Firmer::a, 30.0, 2.0},
                {0.11, 0.16, Firmer::b, -20.0, 2.0}};
  REQUIRE(leading_span(pair) != nullptr);
  CHECK(leading_span(pair)->firmer == Firmer::b);
  pair.spans.resize(1);
  CHECK(leading_span(pair) == nullptr);
}

TEST_CASE("report sentences: sag of both, alike and unlike", "[fit]") {
  const PairWords names{"Larch", "Basalt"};
  ComparedPair pair;
  pair.setting_a = "81.0 psi (5.58 bar), 1 spacer";
  pair.setting_b = "76.0 psi (5.24 bar), no spacer";
  CHECK(sag_sentence(pair, names) == "");
  pair.load_N = 430.0;
  pair.sag_a = {0.0321, 0.0004, 0.0300, 0.0342};
  pair.sag_b = {0.0322, 0.0003, 0.0295, 0.0351};
  CHECK(sag_sentence(pair, names) ==
        "Under 430 N along the fork, both rest at 32.1 mm: Larch at 81.0 psi (5.58 bar), 1 spacer, "
        "Basalt at 76.0 psi (5.24 bar), no spacer. Friction can hold them anywhere from 30 to 34 "
        "mm, and from 30 to 35 mm.");
  pair.sag_b = {0.0401, 0.0003, std::nullopt, std::nullopt};
  CHECK(sag_sentence(pair, names) ==
        "Under 430 N along the fork, Larch at 81.0 psi (5.58 bar), 1 spacer rests at 32.1 ± 0.4 mm "
        "(friction can hold it anywhere from 30 to 34 mm), and Basalt at 76.0 psi (5.24 bar), no "
        "spacer at 40.1 ± 0.3 mm.");
}

TEST_CASE("report sentences: no difference is said where none is resolved", "[fit]") {
  ComparisonInput input = sample();
  input.pairs.front().spans = {{0.0073, 0.1387, Firmer::neither, 0.1, 3.0}};
  const auto findings = comparison_summary(input);
  const bool said = std::any_of(findings.begin(), findings.end(), [](const Finding& finding) {
    return finding.sentence ==
           "At matched sag, no difference is resolved anywhere from 7 to 139 mm.";
  });
  CHECK(said);
}

TEST_CASE("report cautions: unusable fits and broken records are named at the top", "[fit]") {
  ComparisonInput input = sample();
  CHECK(make_comparison_report(input).cautions.empty());
  input.a.model.usable = false;
  input.b.records[1].record.metadata.state = protocol::RecordState::interrupted;
  input.pairs.front().answer_a->warnings = {"beyond 146.0 mm nothing was swept"};
  const auto cautions = make_comparison_report(input).cautions;
  REQUIRE(cautions.size() == 3);
  CHECK_THAT(cautions[0], Contains("fit of Larch 160 is not usable"));
  CHECK_THAT(cautions[1], Contains("basalt-81psi-2"));
  CHECK_THAT(cautions[2], Contains("beyond 146.0 mm"));
}

TEST_CASE("report sections: forces without a certificate are called assumptions", "[fit]") {
  ComparisonInput input = sample();
  for (auto& each : input.b.records) {
    each.record.metadata.force_calibration.reset();
    each.record.metadata.doubt.calibrated = false;
  }
  const Section section = calibration_section(input);
  CHECK(table_in(section, "calibration").rows.size() == 2);
  const bool said =
      std::any_of(section.blocks.begin(), section.blocks.end(), [](const Block& each) {
        const auto* note = std::get_if<Note>(&each);
        return note != nullptr && note->kind == NoteKind::caution;
      });
  CHECK(said);
}
