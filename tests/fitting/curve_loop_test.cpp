// The steady loop: what averaging keeps, what it removes, and what it says about its own doubt.
#include "fitting/curve/loop.hpp"

#include <catch2/catch.hpp>

#include "fitting/curve/curve.hpp"
#include "tests/fitting/made_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

double spring_N(double x) {
  return 120.0 + 2500.0 * x + 60000.0 * x * x;
}

made::Law with_friction(double friction_N) {
  return [friction_N](double x, int direction) { return spring_N(x) + direction * friction_N; };
}

std::size_t index_of(const Loop& loop, double travel_m) {
  return static_cast<std::size_t>(std::lround((travel_m - loop.travel_m[0]) / loop.grid_step_m));
}

bool remarked(const std::vector<std::string>& remarks, const std::string& words) {
  return std::any_of(remarks.begin(), remarks.end(), [&](const std::string& remark) {
    return remark.find(words) != std::string::npos;
  });
}

}  // namespace

TEST_CASE(
    "loop: the mean of both strokes removes friction that is alike, half the difference is it",
    "[fit]") {
  const auto loop = make_loop(made::sweep({}, with_friction(14.0)));
  REQUIRE(loop);
  int checked = 0;
  for (std::size_t i = 0; i < loop->travel_m.size(); ++i) {
    const double x = loop->travel_m[i];
    if (x < 0.0005 || x > 0.1495) continue;
    REQUIRE(loop->valid[i]);
    // Because a straight line through a cell of 0.5 mm misses the parabola by 60000 (0.25 mm)^2
    // / 2.
    CHECK_THAT(loop->midline_N[i], WithinAbs(spring_N(x), 0.002));
    CHECK_THAT(loop->half_loop_N[i], WithinAbs(14.0, 0.002));
    ++checked;
  }
  CHECK(checked == 299);
  CHECK(loop->speed_dependent.empty());
  CHECK_THAT(loop->speed_m_s, WithinAbs(0.004, 1e-12));  // because it is stated
}

TEST_CASE("loop: conditioning strokes and a partial last stroke are left out", "[fit]") {
  made::Sweep plan;
  plan.cycles = 4;
  plan.conditioning = 2;
  protocol::SweepRecord record = made::sweep(plan, with_friction(10.0));
  const auto strokes = split_strokes(record);
  REQUIRE(strokes);
  // Conditioning strokes and the last one lie 50 N off: no trace may be left of them.
  for (std::size_t i = 0; i < record.size(); ++i) {
    const bool conditioning = i < (*strokes)[4].first_row;
    const bool last = i >= (*strokes)[7].first_row;
    if (conditioning || last) record.force_N[i] += 50.0;
  }
  record.travel_m.resize(record.size() - 400);
  record.force_N.resize(record.travel_m.size());
  record.time_s.resize(record.travel_m.size());
  const auto loop = make_loop(record);
  REQUIRE(loop);
  CHECK(loop->compression.strokes == 2);
  CHECK(loop->rebound.strokes == 1);
  // Because only rounding and the curvature of a cell remain.
  CHECK_THAT(loop->midline_N[index_of(*loop, 0.075)], WithinAbs(spring_N(0.075), 0.01));
}

TEST_CASE("loop: the stated uncertainty covers the truth", "[fit][property]") {
  made::Sweep plan;
  plan.rows_per_s = 20.0;
  plan.force_noise_N = 1.5;
  plan.cycle_scatter_N = 1.0;
  int inside = 0;
  int total = 0;
  double zscore_squares = 0.0;
  for (unsigned seed = 1; seed <= 200; ++seed) {
    plan.seed = seed;
    const auto loop = make_loop(made::sweep(plan, with_friction(12.0)));
    REQUIRE(loop);
    const std::size_t i = index_of(*loop, 0.08);
    const double z =
        (loop->midline_N[i] - spring_N(0.08)) / loop->midline_standard_uncertainty_N[i];
    inside += std::abs(z) <= 1.96 ? 1 : 0;
    zscore_squares += std::min(z * z, 16.0);
    ++total;
  }
  CAPTURE(inside, total);
  // Because three cycles that share one offset are fewer witnesses than assumed: nominal 95 % may
  // fall to 89 % (Student's 2 degrees of freedom), of which 200 draws miss 160 once in 10^4 ...
  CHECK(inside >= 165);
  // ... and an uncertainty that merely swallowed everything would show here.
  CHECK(zscore_squares / total > 0.4);
}

TEST_CASE(
    "loop: without scatter between cycles the noise alone is the doubt, and shrinks with rows",
    "[fit][property]") {
  made::Sweep plan;
  plan.force_noise_N = 2.0;
  double squares_N2 = 0.0;
  double stated_N2 = 0.0;
  int count = 0;
  for (unsigned seed = 1; seed <= 10; ++seed) {
    plan.seed = seed;
    const auto loop = make_loop(made::sweep(plan, with_friction(12.0)));
    REQUIRE(loop);
    for (std::size_t i = 4; i + 4 < loop->travel_m.size(); ++i) {
      squares_N2 += std::pow(loop->midline_N[i] - spring_N(loop->travel_m[i]), 2);
      stated_N2 += std::pow(loop->midline_standard_uncertainty_N[i], 2);
      ++count;
    }
  }
  // 5 rows in a cell, 3 cycles, 2 strokes: 2 N / sqrt(30).
  CHECK_THAT(std::sqrt(squares_N2 / count), WithinAbs(2.0 / std::sqrt(30.0), 0.02));
  // Because the pooled scatter of three cycles adds a little of its own noise on top.
  CHECK(stated_N2 / squares_N2 > 0.85);
  CHECK(stated_N2 / squares_N2 < 1.5);
}

TEST_CASE("loop: what lies near a turn is marked when the thermal time is known", "[fit]") {
  LoopOptions options;
  options.thermal_time_s = 1.5;  // 3 x 4 mm/s x 1.5 s = 18 mm
  const auto loop = make_loop(made::sweep({}, with_friction(12.0)), options);
  REQUIRE(loop);
  REQUIRE(loop->speed_dependent.size() == loop->travel_m.size());
  CHECK(loop->speed_dependent[index_of(*loop, 0.017)]);
  CHECK_FALSE(loop->speed_dependent[index_of(*loop, 0.019)]);
  CHECK_FALSE(loop->speed_dependent[index_of(*loop, 0.131)]);
  CHECK(loop->speed_dependent[index_of(*loop, 0.133)]);
}

TEST_CASE("loop: the speed is taken from the clock where it is not stated", "[fit]") {
  protocol::SweepRecord record = made::sweep({}, with_friction(12.0));
  record.metadata.speed_m_s.reset();
  const auto loop = make_loop(record);
  REQUIRE(loop);
  CHECK_THAT(loop->speed_m_s, WithinAbs(0.004, 1e-6));  // because rows are evenly timed
  record.time_s.clear();
  const auto untimed = make_loop(record);
  REQUIRE(untimed);
  CHECK(untimed->speed_m_s == 0.0);
  CHECK(untimed->midline_N[150] == loop->midline_N[150]);
}

TEST_CASE("loop: on a rig that only pushes, lost contact is left out and said", "[fit]") {
  // The fork hangs in its seals below 6 mm on the way out: the cell reads nothing there.
  const made::Law law = [](double x, int direction) {
    return direction < 0 && x < 0.006 ? 0.0 : spring_N(x) + direction * 14.0;
  };
  protocol::SweepRecord record = made::sweep({}, law);
  record.metadata.setting.coupling = protocol::Coupling::push;
  const auto loop = make_loop(record);
  REQUIRE(loop);
  CHECK_FALSE(loop->valid[index_of(*loop, 0.004)]);
  CHECK(loop->contact_lost[index_of(*loop, 0.004)]);
  CHECK(loop->compression.covers(index_of(*loop, 0.004)));
  CHECK(loop->valid[index_of(*loop, 0.008)]);
  CHECK(remarked(loop->remarks, "contact was lost"));
  const auto curve = midline_curve(*loop);
  REQUIRE(curve);
  CHECK(curve->travel_m.front() > 0.0055);

  // With the axle clamped a force near zero is a force.
  record.metadata.setting.coupling = protocol::Coupling::clamped;
  CHECK(make_loop(record)->valid[index_of(*loop, 0.004)]);
}

TEST_CASE("loop: backlash shifts the way back, is corrected, and stays in the doubt", "[fit]") {
  const double backlash_m = 0.0004;
  const made::Law law = [&](double x, int direction) {
    // The drive reads x, the fork stands at x + b on the way out.
    return direction > 0 ? spring_N(x) + 12.0 : spring_N(x + backlash_m) - 12.0;
  };
  const protocol::SweepRecord record = made::sweep({}, law);
  const double x = 0.1;
  const double rate_N_m = 2500.0 + 120000.0 * x;
  const auto plain = make_loop(record);
  REQUIRE(plain);
  const std::size_t i = index_of(*plain, x);
  // Source of the size: the midline moves by rate x b / 2. Because of curvature within b: 0.01 N.
  CHECK_THAT(plain->midline_N[i] - spring_N(x), WithinAbs(0.5 * rate_N_m * backlash_m, 0.01));
  LoopOptions options;
  options.backlash = protocol::Backlash{backlash_m, 0.0001};
  const auto corrected = make_loop(record, options);
  REQUIRE(corrected);
  CHECK_THAT(corrected->midline_N[i], WithinAbs(spring_N(x), 0.01));
  CHECK_THAT(corrected->half_loop_N[i], WithinAbs(12.0, 0.01));
  CHECK_THAT(corrected->midline_backlash_N[i], WithinAbs(0.5 * rate_N_m * 0.0001, 0.01));
  CHECK(corrected->midline_standard_uncertainty_N[i] >= corrected->midline_backlash_N[i]);
  // Where nothing is said, the record's own travel certificate speaks.
  protocol::SweepRecord certified = record;
  certified.metadata.travel_calibration.emplace().backlash = options.backlash;
  const auto as_certified = make_loop(certified);
  REQUIRE(as_certified);
  CHECK(as_certified->midline_N[i] == corrected->midline_N[i]);
  CHECK(as_certified->midline_backlash_N[i] == corrected->midline_backlash_N[i]);
  // And who says that there is none is believed.
  options.backlash = protocol::Backlash{};
  CHECK(make_loop(certified, options)->midline_N[i] == plain->midline_N[i]);
}

TEST_CASE("loop: a single stroke has a curve but no half-loop", "[fit]") {
  protocol::SweepRecord record = made::sweep({}, with_friction(12.0));
  const auto strokes = split_strokes(record);
  REQUIRE(strokes);
  record.travel_m.resize((*strokes)[0].last_row);
  record.force_N.resize((*strokes)[0].last_row);
  record.time_s.clear();
  record.metadata.single_stroke = true;
  const auto loop = make_loop(record);
  REQUIRE(loop);
  CHECK(loop->single_stroke);
  const std::size_t i = index_of(*loop, 0.06);
  CHECK_THAT(loop->midline_N[i], WithinAbs(spring_N(0.06) + 12.0, 0.01));  // as one stroke has it
  CHECK(std::isnan(loop->half_loop_N[i]));
  CHECK(remarked(loop->remarks, "friction is not determined"));
  CHECK_FALSE(loop->repeatability_N.has_value());
}

TEST_CASE("loop: a record with few rows is joined by straight lines", "[fit]") {
  made::Sweep plan;
  plan.rows_per_s = 2.0;  // a row every 2 mm
  plan.cycles = 1;
  const auto loop = make_loop(made::sweep(plan, with_friction(12.0)));
  REQUIRE(loop);
  for (double x : {0.011, 0.0505, 0.1405}) {
    // Because a chord over 2 mm misses the parabola by at most 60000 (1 mm)^2.
    CHECK_THAT(loop->midline_N[index_of(*loop, x)], WithinAbs(spring_N(x), 0.061));
  }
  CHECK(remarked(loop->remarks, "one measured cycle only"));
}

TEST_CASE("loop: an interrupted sweep falls back on its conditioning and says so", "[fit]") {
  made::Sweep plan;
  plan.cycles = 1;
  plan.conditioning = 2;
  const auto loop = make_loop(made::sweep(plan, with_friction(12.0)));
  REQUIRE(loop);
  CHECK(remarked(loop->remarks, "last conditioning stroke stands in"));
}

TEST_CASE("curve: rate and its doubt follow from the midline", "[fit][property]") {
  made::Sweep plan;
  plan.force_noise_N = 1.0;
  double squares = 0.0;
  double stated = 0.0;
  int count = 0;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    plan.seed = seed;
    const auto loop = make_loop(made::sweep(plan, with_friction(12.0)));
    REQUIRE(loop);
    const auto curve = midline_curve(*loop);
    REQUIRE(curve);
    const Rate rate = local_rate(*curve);
    for (std::size_t i = 10; i + 10 < curve->size(); i += 15) {
      const double truth_N_m = 2500.0 + 120000.0 * curve->travel_m[i];
      squares += std::pow(rate.rate_N_m[i] - truth_N_m, 2);
      stated += std::pow(rate.standard_uncertainty_N_m[i], 2);
      ++count;
    }
  }
  CAPTURE(std::sqrt(squares / count), std::sqrt(stated / count));
  // Because 380 values tell a standard deviation to 4 %, and few cycles widen the stated one.
  CHECK(stated / squares > 0.7);
  CHECK(stated / squares < 1.8);
}
