// Rests on a stroke's way, and strokes of several speeds, as the curve takes them.
#include "fitting/curve/dwells.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "fitting/curve/loop.hpp"
#include "tests/fitting/made_records.hpp"

using namespace fitting;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr double kRowsPerSecond = 40.0;

// Up and back in legs of 37.5 mm with a rest after each, at which the force falls by 20 N.
protocol::SweepRecord staircase(double rest_s) {
  protocol::SweepRecord record;
  record.metadata.record_id = "stairs";
  record.metadata.origin = "sweep";
  record.metadata.fork.travel_m = 0.160;
  double time_s = 0.0;
  const auto add = [&](double travel_m, double force_N, int stroke) {
    record.time_s.push_back(time_s);
    record.stroke.push_back(stroke);
    record.travel_m.push_back(travel_m);
    record.force_N.push_back(force_N);
    time_s += 1.0 / kRowsPerSecond;
  };
  for (int stroke = 0; stroke < 4; ++stroke) {
    const int direction = stroke % 2 == 0 ? +1 : -1;
    for (int leg = 0; leg < 4; ++leg) {
      const double from_m = direction > 0 ? 0.0375 * leg : 0.150 - 0.0375 * leg;
      for (int i = 0; i < 200; ++i) {
        const double x_m = from_m + direction * 0.0375 * (i + 1) / 200.0;
        add(x_m, 8000.0 * x_m + 10.0 * direction, stroke);
      }
      const double x_m = from_m + direction * 0.0375;
      for (int i = 0; i < rest_s * kRowsPerSecond; ++i) {
        add(x_m, 8000.0 * x_m + 10.0 * direction - 20.0, stroke);
      }
    }
  }
  return record;
}

}  // namespace

TEST_CASE("dwells: rests on the way are found, and the speed is that of the motion", "[curve]") {
  const protocol::SweepRecord record = staircase(20.0);
  const auto strokes = split_strokes(record);
  REQUIRE(strokes);
  REQUIRE(strokes->size() == 4);
  const StrokeMotion motion = motion_of(record, (*strokes)[0]);
  CHECK_THAT(motion.speed_m_s, WithinRel(0.0375 / 5.0, 0.01));
  std::size_t resting = 0;
  for (bool row : motion.resting) resting += row;
  // Three rests of 800 rows lie within the stroke; the fourth is at its turn.
  CHECK_THAT(double(resting), WithinAbs(2400.0, 30.0));
}

TEST_CASE("dwells: a plain stroke has none", "[curve]") {
  const protocol::SweepRecord record = made::sweep({}, [](double x, int) { return 1e4 * x; });
  const auto strokes = split_strokes(record);
  REQUIRE(strokes);
  for (const Stroke& stroke : *strokes) {
    const StrokeMotion motion = motion_of(record, stroke);
    CHECK_THAT(motion.speed_m_s, WithinRel(0.004, 0.02));
    CHECK(std::count(motion.resting.begin(), motion.resting.end(), true) == 0);
    CHECK_FALSE(stroke.other_speed);
  }
}

TEST_CASE("dwells: what the force does at a rest stays out of the curve", "[curve]") {
  const auto made = make_loop(staircase(20.0), {});
  REQUIRE(made);
  const Loop& loop = *made;
  for (std::size_t i = 0; i < loop.travel_m.size(); ++i) {
    const double x_m = loop.travel_m[i];
    if (x_m < 0.010 || x_m > 0.140) continue;
    CAPTURE(x_m);
    CHECK_THAT(loop.compression.force_N[i], WithinAbs(8000.0 * x_m + 10.0, 1.0));
  }
}

TEST_CASE("dwells: strokes at another speed are marked and not averaged in", "[curve]") {
  protocol::SweepRecord record =
      made::sweep({.cycles = 2}, [](double x, int d) { return 1e4 * x + 10.0 * d; });
  const protocol::SweepRecord fast = made::sweep(
      {.speed_m_s = 0.016, .cycles = 1}, [](double x, int d) { return 1e4 * x + 30.0 * d; });
  const double after_s = record.time_s.back() + 0.025;
  for (std::size_t row = 1; row < fast.size(); ++row) {
    record.time_s.push_back(after_s + fast.time_s[row]);
    record.stroke.push_back(4 + fast.stroke[row]);
    record.travel_m.push_back(fast.travel_m[row]);
    record.force_N.push_back(fast.force_N[row]);
  }
  const auto strokes = split_strokes(record);
  REQUIRE(strokes);
  REQUIRE(strokes->size() == 6);
  CHECK_FALSE((*strokes)[3].other_speed);
  CHECK((*strokes)[4].other_speed);
  CHECK((*strokes)[5].other_speed);
  const auto loop = make_loop(record, {});
  REQUIRE(loop);
  const std::size_t middle = loop->travel_m.size() / 2;
  CHECK_THAT(loop->half_loop_N[middle], WithinAbs(10.0, 0.1));
}

TEST_CASE("dwells: the ways in and out may each have a speed of their own", "[curve]") {
  protocol::SweepRecord record =
      made::sweep({.cycles = 3}, [](double x_m, int d) { return 8000.0 * x_m + 12.0 * d; });
  // Out half again as fast: the clock of every second stroke runs quicker.
  double shift_s = 0.0;
  for (std::size_t row = 1; row < record.size(); ++row) {
    if (record.stroke[row] % 2 == 1) shift_s += 1.0 / 40.0 / 3.0;
    record.time_s[row] -= shift_s;
  }
  const auto loop = make_loop(record);
  REQUIRE(loop);
  for (const Stroke& stroke : loop->strokes) CHECK_FALSE(stroke.other_speed);

  // Of one stroke that ran at another speed than its like, something is said.
  protocol::SweepRecord odd =
      made::sweep({.cycles = 3}, [](double x_m, int d) { return 8000.0 * x_m + 12.0 * d; });
  double slow_s = 0.0;
  for (std::size_t row = 1; row < odd.size(); ++row) {
    if (odd.stroke[row] == 0) slow_s += 1.0 / 40.0;
    odd.time_s[row] += slow_s;
  }
  const auto left = make_loop(odd);
  REQUIRE(left);
  CHECK(left->strokes[0].other_speed);
  CHECK_FALSE(left->strokes[2].other_speed);
  CHECK(std::any_of(left->remarks.begin(), left->remarks.end(), [](const std::string& remark) {
    return remark.find("1 stroke in compression ran at another speed") != std::string::npos;
  }));
}
