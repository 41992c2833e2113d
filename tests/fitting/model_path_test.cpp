// A record reduced to cells: nothing lost, nothing bent, and what cannot be fitted left out.
#include "fitting/model/path.hpp"

#include <catch2/catch.hpp>
#include <limits>

#include "tests/fitting/made_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr double kPortZone_m = 0.011;

double straight_N(double travel_m, int direction) {
  return 300.0 + 8000.0 * travel_m + 10.0 * direction;
}

Path path_of(const protocol::SweepRecord& record) {
  const auto path = make_path(record, kPortZone_m);
  REQUIRE(path);
  return *path;
}

made::Sweep fine() {
  made::Sweep plan;
  plan.rows_per_s = 800.0;  // 5 um apart
  plan.cycles = 2;
  return plan;
}

}  // namespace

TEST_CASE("path: every row lies in one cell, and every turn is passed through", "[fit]") {
  made::Sweep plan;
  plan.dwell_s = 1.0;
  const protocol::SweepRecord record = made::sweep(plan, straight_N);
  const Path path = path_of(record);
  int rows = 0;
  std::vector<double> turns_m;
  for (const PathNode& node : path.nodes) {
    rows += node.rows;
    if (node.rows == 0) turns_m.push_back(node.travel_m);
  }
  CHECK(rows == static_cast<int>(record.size()));
  CHECK(path.samples == record.size());
  CHECK(path.strokes == 6);
  REQUIRE(turns_m.size() == 6);
  for (std::size_t i = 0; i < turns_m.size(); ++i) {
    CHECK_THAT(turns_m[i], WithinAbs(i % 2 == 0 ? 0.150 : 0.0, 1e-9));
  }
  CHECK_THAT(path.largest_travel_m, WithinAbs(0.150, 1e-9));
  CHECK_THAT(path.largest_force_N, WithinRel(straight_N(0.150, +1), 1e-3));
  CHECK_THAT(path.speed_m_s, WithinRel(0.004, 5e-3));
}

TEST_CASE("path: cells are small after a reversal and where the port may be", "[fit]") {
  const Path path = path_of(made::sweep(fine(), straight_N));
  for (std::size_t i = 1; i < path.nodes.size(); ++i) {
    const PathNode& before = path.nodes[i - 1];
    const PathNode& node = path.nodes[i];
    if (before.stroke != node.stroke || node.rows == 0 || before.rows == 0) continue;
    const double apart_m = std::abs(node.travel_m - before.travel_m);
    const double from_turn_m = node.direction > 0 ? node.travel_m : 0.150 - node.travel_m;
    CAPTURE(node.travel_m, node.direction);
    // A cell may be longer than its bound by the row that ends it.
    CHECK(apart_m < 1e-3 + 2e-5);
    CHECK(apart_m < 5e-5 + 0.1 * from_turn_m + 2e-5);
    if (node.travel_m < kPortZone_m) CHECK(apart_m < 2.5e-4 + 2e-5);
    // The last cell of a stroke is what remains.
    const bool last = std::abs(node.travel_m - 0.075) > 0.073;
    if (from_turn_m > 0.03 && before.travel_m > kPortZone_m + 1e-3 && !last)
      CHECK(apart_m > 0.9e-3);
  }
}

TEST_CASE("path: a cell is the mean of its rows, so that a straight force is not bent", "[fit]") {
  made::Sweep plan;
  plan.cycles = 1;
  const Path path = path_of(made::sweep(plan, straight_N));
  for (const PathNode& node : path.nodes) {
    if (node.rows == 0) continue;
    CAPTURE(node.travel_m, node.direction);
    // The row of a turn is recorded with the stroke that arrives there.
    CHECK_THAT(node.force_N, WithinAbs(straight_N(node.travel_m, node.direction), 1e-9));
    CHECK_THAT(node.scatter_N2, WithinAbs(0.0, 1e-12));
    const double way_m = node.direction > 0 ? node.travel_m : 0.300 - node.travel_m;
    CHECK_THAT(node.time_s, WithinAbs(way_m / 0.004, 1e-6));
  }
}

TEST_CASE("path: the noise of one sample is what scatters within the cells", "[fit]") {
  made::Sweep plan = fine();
  plan.force_noise_N = 1.5;
  const Path path = path_of(made::sweep(plan, straight_N));
  // Because some 100,000 rows tell a standard deviation to 0.3 %.
  CHECK_THAT(path.noise_N, WithinRel(1.5, 0.01));
  plan.force_noise_N = 0.0;
  // Even without noise a sample has its digits.
  CHECK_THAT(path_of(made::sweep(plan, straight_N)).noise_N, WithinAbs(0.01, 1e-12));
}

TEST_CASE("path: a dwell is cut in time, at the turn's travel", "[fit]") {
  made::Sweep plan;
  plan.dwell_s = 8.0;
  plan.cycles = 1;
  plan.travel_noise_m = 2e-6;
  const Path path = path_of(made::sweep(plan, straight_N));
  int dwelling = 0;
  double last_s = -1.0;
  for (const PathNode& node : path.nodes) {
    CHECK(node.time_s >= last_s);
    last_s = node.time_s;
    const bool still = node.stroke == 0 && node.time_s > 0.150 / 0.004 + 0.1;
    if (!still || node.rows == 0) continue;
    ++dwelling;
    CHECK_THAT(node.travel_m, WithinAbs(0.150, 1e-5));
  }
  // Graded from 0.1 s on: eight seconds in some ten to twenty cells.
  CHECK(dwelling >= 8);
  CHECK(dwelling <= 30);
}

TEST_CASE("path: jitter makes no reversal and no step back", "[fit]") {
  made::Sweep plan;
  plan.travel_noise_m = 3e-5;
  plan.force_noise_N = 1.0;
  plan.dwell_s = 1.0;
  const Path path = path_of(made::sweep(plan, straight_N));
  CHECK(path.strokes == 6);
  for (std::size_t i = 1; i < path.nodes.size(); ++i) {
    const PathNode& before = path.nodes[i - 1];
    const PathNode& node = path.nodes[i];
    if (before.stroke == node.stroke) {
      CHECK(node.direction * (node.travel_m - before.travel_m) >= 0.0);
    }
  }
}

TEST_CASE("path: the first millimetres from rest are seen but not fitted", "[fit]") {
  const bool upwards = GENERATE(true, false);
  made::Sweep plan;
  plan.cycles = 2;
  protocol::SweepRecord record = made::sweep(plan, straight_N);
  if (!upwards) {  // a record that begins at the bottom
    for (double& x : record.travel_m) x = 0.150 - x;
  }
  const double start_m = upwards ? 0.0 : 0.150;
  int left_out = 0;
  for (const PathNode& node : path_of(record).nodes) {
    if (node.rows == 0) continue;
    const bool at_start = node.stroke == 0 && std::abs(node.travel_m - start_m) < kUnknownStart_m;
    CHECK(node.counts == !at_start);
    left_out += at_start ? 1 : 0;
  }
  CHECK(left_out >= 3);
}

TEST_CASE("path: where a pushed fork has lifted off, nothing is fitted", "[fit]") {
  const auto with_lift = [](double travel_m, int) {
    return std::max(0.0, 9000.0 * (travel_m - 0.01));
  };
  protocol::SweepRecord record = made::sweep({}, with_lift);
  record.metadata.setting.coupling = protocol::Coupling::push;
  for (const PathNode& node : path_of(record).nodes) {
    if (node.rows > 0 && node.travel_m < 0.0100) CHECK_FALSE(node.counts);
    if (node.rows > 0 && node.travel_m > 0.0115) CHECK(node.counts);
  }
  record.metadata.setting.coupling = protocol::Coupling::clamped;
  int counted = 0;
  for (const PathNode& node : path_of(record).nodes) {
    if (node.rows > 0 && node.travel_m < 0.0095 && node.stroke > 0) counted += node.counts ? 1 : 0;
  }
  CHECK(counted > 20);
}

TEST_CASE("path: without a clock a dwell says nothing and time is nowhere", "[fit]") {
  made::Sweep plan;
  plan.dwell_s = 2.0;
  protocol::SweepRecord record = made::sweep(plan, straight_N);
  record.time_s.clear();
  const Path path = path_of(record);
  CHECK_FALSE(path.has_time);
  CHECK(path.strokes == 6);
  CHECK(path.speed_m_s == 0.0);
  for (const PathNode& node : path.nodes) CHECK(node.time_s == 0.0);
}

TEST_CASE("path: a value that is no number is refused with its row", "[fit]") {
  protocol::SweepRecord record = made::sweep({}, straight_N);
  const double none =
      GENERATE(std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity());
  const int column = GENERATE(0, 1, 2);
  (column == 0 ? record.time_s : column == 1 ? record.travel_m : record.force_N)[41] = none;
  const auto path = make_path(record, kPortZone_m);
  REQUIRE_FALSE(path);
  CHECK(path.error().code == protocol::Errc::record_unusable);
  CHECK_THAT(path.error().message, Contains("row 42"));
}

TEST_CASE("path: a record that never moves is refused", "[fit]") {
  protocol::SweepRecord record = made::sweep({}, straight_N);
  for (double& x : record.travel_m) x = 0.02;
  CHECK_FALSE(make_path(record, kPortZone_m));
}
