// What the report says of rides, against rides whose answers are known.
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "tests/fitting/report_parts.hpp"
#include "tests/fitting/report_sample.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using tests::figure_in;
using tests::table_in;

namespace {

// A sine about `middle` with 200 samples a second for 20 s.
RideAnswer sine(const std::string& name, double middle_m, double reach_m) {
  RideLog log{name, {}, {}};
  for (int i = 0; i <= 4000; ++i) {
    const double time_s = i / 200.0;
    log.time_s.push_back(time_s);
    log.travel_m.push_back(middle_m + reach_m * std::sin(2.0 * std::numbers::pi * 1.5 * time_s));
  }
  TraceOptions options;
  options.zero = RideZero::none;
  auto trace = make_trace(log, 0.160, options);
  REQUIRE(trace);
  return answer_ride(*std::move(trace));
}

ComparisonInput ridden_input() {
  ComparisonInput input = tests::sample_comparison();
  input.rides.a = sine("larch-ride", 0.080, 0.050);
  input.rides.b = sine("basalt-ride", 0.070, 0.040);
  input.rides.met =
      weigh_by_ride(input.pairs.front().difference, {&input.rides.a->time, &input.rides.b->time});
  return input;
}

}  // namespace

TEST_CASE("report: rides side by side, with the difference that they met", "[fit]") {
  const ComparisonInput input = ridden_input();
  const Section section = ridden_section(input);
  REQUIRE(section.blocks.size() >= 5);
  CHECK_THAT(std::get<Paragraph>(section.blocks[0]).text,
             Contains("Larch 160 was ridden for 20 s that count, at 80.0 mm of travel on average "
                      "and 130.0 mm at the deepest; half of the time it was beyond 80.0 mm.") &&
                 Contains("Basalt 160"));
  CHECK_THAT(std::get<Paragraph>(section.blocks[1]).text,
             Contains("weighted by the time that was ridden at each travel") &&
                 Contains("100 % of the time"));
  const Table& table = table_in(section, "ridden");
  CHECK(table.columns.size() == 3);
  CHECK(table.rows[1] == std::vector<std::string>{"Mean travel, mm", "80.0", "70.0"});
  // 30 strokes in of 100 and of 80 mm.
  CHECK(table.rows[3] == std::vector<std::string>{"Moved in, m", "3.0", "2.4"});
}

TEST_CASE("report: the rides' figures follow the closed forms of a sine", "[fit]") {
  const ComparisonInput input = ridden_input();
  const Section section = ridden_section(input);
  const auto& beyond = std::get<Line>(figure_in(section, "ridden-travel").panels[0].layers[0]);
  for (std::size_t i = 0; i < beyond.x.size(); ++i) {
    const double height = std::clamp((beyond.x[i] - 80.0) / 50.0, -1.0, 1.0);
    // Time of a sine above a height: 1/2 - asin(h) / pi. Straight pieces between samples cut its
    // crest by 1 - cos(pi 1.5 / 200) = 0.03 % of 50 mm, which near the crest is up to 1 % of time.
    CHECK_THAT(beyond.y[i], WithinAbs(100.0 * (0.5 - std::asin(height) / std::numbers::pi), 1.0));
  }
  const Figure& speeds = figure_in(section, "ridden-speeds");
  REQUIRE(speeds.panels.size() == 2);
  for (const Panel& panel : speeds.panels) {
    const auto& line = std::get<Line>(panel.layers[0]);
    for (std::size_t i = 0; i < line.x.size(); ++i) {
      // Speed of which a share p of the way's time is slower: v sin(p pi / 2), v = 2 pi f A; slopes
      // over 16 ms take 1 - sinc-like 0.1 % off it.
      const double expected_m_s = 2.0 * std::numbers::pi * 1.5 * 0.050 *
                                  std::sin(0.01 * line.y[i] * std::numbers::pi / 2.0);
      CHECK_THAT(line.x[i], WithinAbs(expected_m_s, 0.006));
    }
  }
  CHECK_THAT(speeds.alt, Contains("nine tenths of going in slower than 0.47 m/s"));
}

TEST_CASE("report: without a ride there is no section of it; one ride stands alone", "[fit]") {
  CHECK(ridden_section(tests::sample_comparison()).blocks.empty());
  ComparisonInput input = ridden_input();
  input.rides.b.reset();
  const Section section = ridden_section(input);
  CHECK(figure_in(section, "ridden-travel").panels[0].layers.size() == 1);
}

TEST_CASE("report: a weighted difference within its doubt is called none", "[fit]") {
  ComparisonInput input = ridden_input();
  input.rides.met = RiddenDifference{1.0, 0.8, 1.0};
  CHECK_THAT(std::get<Paragraph>(ridden_section(input).blocks[1]).text,
             Contains("no difference is resolved on average (1.00 ± 0.80 N)"));
}
