// Strokes are found in the path itself, whatever jitters on it.
#include "fitting/curve/strokes.hpp"

#include <catch2/catch.hpp>

#include "tests/fitting/made_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

double spring(double travel_m, int) {
  return 100.0 + 5000.0 * travel_m;
}

std::vector<int> directions(const std::vector<Stroke>& strokes) {
  std::vector<int> result;
  for (const Stroke& stroke : strokes) result.push_back(stroke.direction);
  return result;
}

void check_rows_join(const std::vector<Stroke>& strokes, std::size_t rows) {
  std::size_t next = 0;
  for (const Stroke& stroke : strokes) {
    CHECK(stroke.first_row == next);
    CHECK(stroke.moving_end > stroke.first_row);
    CHECK(stroke.moving_end <= stroke.last_row);
    next = stroke.last_row;
  }
  CHECK(next == rows);
}

}  // namespace

TEST_CASE("strokes: a clean sweep splits at its turns, every row in one stroke", "[fit]") {
  const protocol::SweepRecord record = made::sweep({}, spring);
  const std::vector<Stroke> strokes = split_path(record.travel_m);
  CHECK(directions(strokes) == std::vector<int>{1, -1, 1, -1, 1, -1});
  check_rows_join(strokes, record.size());
  for (std::size_t k = 0; k < strokes.size(); ++k) {
    CHECK(strokes[k].cycle == static_cast<int>(k / 2));
    CHECK_FALSE(strokes[k].partial);
    // Because the made turns lie exactly at 0 and 150 mm.
    CHECK_THAT(strokes[k].to_m, WithinAbs(k % 2 == 0 ? 0.150 : 0.0, 1e-12));
    CHECK_THAT(strokes[k].length_m(), WithinAbs(0.150, 1e-12));
  }
}

TEST_CASE("strokes: the path agrees with a rig's own numbering, dwells included", "[fit]") {
  made::Sweep plan;
  plan.dwell_s = 2.0;
  plan.travel_noise_m = GENERATE(0.0, 5e-6, 5e-5);
  CAPTURE(plan.travel_noise_m);
  const protocol::SweepRecord record = made::sweep(plan, spring);
  const std::vector<Stroke> strokes = split_path(record.travel_m);
  REQUIRE(strokes.size() == 6);
  check_rows_join(strokes, record.size());
  for (std::size_t k = 0; k < strokes.size(); ++k) {
    std::size_t foreign = 0;
    for (std::size_t i = strokes[k].first_row; i < strokes[k].last_row; ++i) {
      if (record.stroke[i] != static_cast<int>(k)) ++foreign;
    }
    // A row moves 0.1 mm; jitter may hand a few rows next to a turn over, never a dwell of 80.
    CHECK(foreign <= 4);
    if (plan.travel_noise_m < 1e-5) {
      CHECK(strokes[k].last_row - strokes[k].moving_end >= 60);  // most of the dwell
    }
  }
}

TEST_CASE("strokes: neither jitter nor quantisation makes strokes", "[fit][property]") {
  made::Sweep plan;
  plan.travel_noise_m = GENERATE(0.0, 0.0001, 0.0002);
  plan.seed = static_cast<unsigned>(GENERATE(range(1, 6)));
  const double quantum_m = GENERATE(0.0, 0.0001, 0.001);
  CAPTURE(plan.travel_noise_m, plan.seed, quantum_m);
  protocol::SweepRecord record = made::sweep(plan, spring);
  if (quantum_m > 0.0) {
    for (double& x : record.travel_m) x = quantum_m * std::round(x / quantum_m);
  }
  const std::vector<Stroke> strokes = split_path(record.travel_m);
  CHECK(directions(strokes) == std::vector<int>{1, -1, 1, -1, 1, -1});
  check_rows_join(strokes, record.size());
}

TEST_CASE("strokes: the last stroke that stops short is kept and marked", "[fit]") {
  protocol::SweepRecord record = made::sweep({}, spring);
  const std::size_t rows = record.size() - 600;  // 60 mm missing of the last rebound
  record.travel_m.resize(rows);
  record.force_N.resize(rows);
  const std::vector<Stroke> strokes = split_path(record.travel_m);
  REQUIRE(strokes.size() == 6);
  CHECK(strokes[5].partial);
  CHECK(strokes[5].last_row == rows);
  CHECK_FALSE(strokes[4].partial);

  // With one cycle only, the rebound is measured against where the compression started.
  record.travel_m.assign({0.0, 0.05, 0.10, 0.15, 0.10, 0.05});
  CHECK(split_path(record.travel_m).back().partial);
  record.travel_m.push_back(0.0);
  CHECK_FALSE(split_path(record.travel_m).back().partial);
}

TEST_CASE("strokes: growing cycles of a measured damper split at every published turn",
          "[fit][oracle]") {
  // Source: [Slit-Damper] displacements at the reversals, mm.
  const std::vector<double> turns_mm = {.848,   -1.048,  1.322,  -1.761, 3.066,  -3.586,
                                        5.805,  -6.166,  7.869,  -8.469, 10.212, -10.970,
                                        12.039, -13.353, 17.248, -18.610};
  std::vector<double> travel_m = {0.0};
  for (double turn_mm : turns_mm) {
    const double from_m = travel_m.back();
    for (int k = 1; k <= 12; ++k) travel_m.push_back(from_m + (turn_mm * 1e-3 - from_m) * k / 12.0);
  }
  const std::vector<Stroke> strokes = split_path(travel_m);
  REQUIRE(strokes.size() == turns_mm.size());
  for (std::size_t k = 0; k < strokes.size(); ++k) {
    // Because rows lie on the turns themselves.
    CHECK_THAT(strokes[k].to_m, WithinAbs(turns_mm[k] * 1e-3, 1e-12));
    CHECK(strokes[k].direction == (k % 2 == 0 ? 1 : -1));
  }
}

TEST_CASE("strokes: a path may start anywhere and in either direction", "[fit]") {
  // From 40 mm up to 0, then two cycles: the stub opens no cycle of its own.
  std::vector<double> travel_m;
  for (double x : {0.040, 0.020, 0.0}) travel_m.push_back(x);
  for (int cycle = 0; cycle < 2; ++cycle) {
    for (double x : {0.05, 0.10, 0.15, 0.10, 0.05, 0.0}) travel_m.push_back(x);
  }
  const std::vector<Stroke> strokes = split_path(travel_m);
  CHECK(directions(strokes) == std::vector<int>{-1, 1, -1, 1, -1});
  std::vector<int> cycles;
  for (const Stroke& stroke : strokes) cycles.push_back(stroke.cycle);
  CHECK(cycles == std::vector<int>{0, 0, 0, 1, 1});
  CHECK(strokes[0].from_m == 0.040);
}

TEST_CASE("strokes: conditioning is what the record says, and an import's first cycle", "[fit]") {
  struct Row {
    const char* origin;
    int stated;
    int cycles;
    protocol::GasStart start;
    int conditioning_strokes;
  };
  const auto row = GENERATE(values<Row>({
      {"sweep", 2, 5, protocol::GasStart::equilibrium, 4},
      {"sweep", 0, 3, protocol::GasStart::equilibrium, 0},
      {"import", 0, 3, protocol::GasStart::equilibrium, 2},
      {"import", 0, 1, protocol::GasStart::equilibrium, 0},
      {"import", 0, 3, protocol::GasStart::cycled, 0},
      {"import", 2, 3, protocol::GasStart::equilibrium, 4},
  }));
  CAPTURE(row.origin, row.stated, row.cycles);
  made::Sweep plan;
  plan.cycles = row.cycles;
  plan.conditioning = row.stated;
  protocol::SweepRecord record = made::sweep(plan, spring);
  record.metadata.origin = row.origin;
  record.metadata.setting.start = row.start;
  const auto strokes = split_strokes(record);
  REQUIRE(strokes);
  int marked = 0;
  for (const Stroke& stroke : *strokes) marked += stroke.conditioning ? 1 : 0;
  CHECK(marked == row.conditioning_strokes);
}

TEST_CASE("strokes: a path that never moves is refused", "[fit]") {
  protocol::SweepRecord record;
  record.metadata.record_id = "still";
  record.travel_m = {0.0500, 0.0501, 0.0500, 0.0501};
  record.force_N = {1, 1, 1, 1};
  const auto strokes = split_strokes(record);
  REQUIRE_FALSE(strokes);
  CHECK(strokes.error().code == protocol::Errc::record_unusable);
  CHECK_THAT(strokes.error().message, Contains("still") && Contains("4 rows"));
  CHECK(split_path({}).empty());
  CHECK(split_path({0.01}).empty());
}
