// A cell whose vices are put in by hand, and whether each comes out where it belongs.
#include "calibration/performance/force_performance.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "calibration/performance/creep.hpp"
#include "calibration/performance/lower_limit.hpp"
#include "calibration/performance/machine_class.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::Calibration;
using calibration::ForcePerformance;
using calibration::Quantity7500;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

constexpr double kFullScale_N = 1000.0;
constexpr double kCounts_N = 80.0;

struct Vices {
  double bend_N = 0.0;        // half-way, a parabola
  double hysteresis_N = 0.0;  // half-way, coming down
  double rest_N = 0.0;        // at zero, after
  double series_gain = 0.0;   // of the third series against the others
  double step = 0.0;          // of the display
};

Calibration cell_with(const Vices& vices, int degree = 1, int series_count = 3) {
  calibration::ReadingSet set = calibration_test::empty_set(calibration::Kind::force);
  for (int series = 1; series <= series_count; ++series) {
    for (int i = 0; i <= 20; ++i) {
      const bool is_down = i > 10;
      const double load_N = 0.1 * kFullScale_N * (is_down ? 20 - i : i);
      const double part = load_N / kFullScale_N;
      double shown_N = load_N + vices.bend_N * 4.0 * part * (1.0 - part);
      if (series == 3) shown_N += vices.series_gain * load_N;
      if (is_down) shown_N += vices.hysteresis_N * 4.0 * part * (1.0 - part);
      if (i == 20) shown_N += vices.rest_N;
      calibration::Reading reading;
      reading.reference = load_N;
      // The zero differs from series to series, as it does on a bench.
      reading.reading = 5000.0 + 100.0 * series + kCounts_N * shown_N;
      reading.series = series;
      set.readings.push_back(reading);
    }
  }
  set.resolution = vices.step;
  return calibration::make_calibration(set, degree).value();
}

TEST_CASE("force performance: a bend is the non-linearity, half-way and of full scale",
          "[calibration]") {
  Vices vices;
  vices.bend_N = 4.0;
  for (const int degree : {1, 2}) {
    CAPTURE(degree);
    const ForcePerformance performance = calibration::force_performance(cell_with(vices, degree));
    CHECK(performance.full_scale_N == kFullScale_N);
    CHECK(performance.series == 3);
    // Because the slope that turns counts into newtons is the curve's mean one, to 1e-3.
    CHECK_THAT(performance.non_linearity_percent, WithinRel(0.4, 0.01));
    CHECK_THAT(performance.hysteresis_percent.value(), WithinAbs(0.0, 1e-9));
    CHECK_THAT(performance.zero_return_percent.value(), WithinAbs(0.0, 1e-9));
  }
  vices.bend_N = -4.0;
  CHECK_THAT(calibration::force_performance(cell_with(vices, 2)).non_linearity_percent,
             WithinRel(-0.4, 0.01));
}

TEST_CASE("force performance: hysteresis by load and of full scale", "[calibration]") {
  Vices vices;
  vices.hysteresis_N = 3.0;
  const ForcePerformance performance = calibration::force_performance(cell_with(vices));
  CHECK_THAT(performance.hysteresis_percent.value(), WithinRel(0.3, 0.01));
  // v is of the load: at 500 N 3 N are 0.6 %, at 100 N 1.08 N are 1.08 %.
  CHECK_THAT(performance.points[4].reversibility_percent.value(), WithinRel(0.6, 0.01));
  CHECK_THAT(performance.points[0].reversibility_percent.value(), WithinRel(1.08, 0.01));
  CHECK_FALSE(performance.creep_percent);
}

TEST_CASE("force performance: the rest at zero is f0", "[calibration]") {
  Vices vices;
  vices.rest_N = -0.8;
  const ForcePerformance performance = calibration::force_performance(cell_with(vices));
  CHECK_THAT(performance.zero_return_percent.value(), WithinRel(-0.08, 0.01));
  CHECK_THAT(performance.hysteresis_percent.value(), WithinAbs(0.0, 1e-3));
  const auto verdict = calibration::machine_class(performance);
  CHECK(verdict.of(Quantity7500::zero_f0).class_met == 1.0);
  CHECK(verdict.of(Quantity7500::accuracy_q).class_met == 0.5);
  CHECK(verdict.overall == 1.0);
}

TEST_CASE("force performance: series that differ are the repeatability", "[calibration]") {
  Vices vices;
  vices.series_gain = 0.008;
  const ForcePerformance performance = calibration::force_performance(cell_with(vices));
  REQUIRE(performance.points.size() == 10);
  for (const auto& point : performance.points) {
    CHECK_THAT(point.repeatability_percent, WithinRel(0.8, 0.01));
  }
  CHECK_THAT(performance.repeatability_percent, WithinRel(0.8, 0.01));
  const auto verdict = calibration::machine_class(performance);
  CHECK(verdict.of(Quantity7500::repeatability_b).class_met == 1.0);
  CHECK(verdict.enough_readings);
  CHECK_THAT(verdict.from_N, WithinAbs(100.0, 1e-9));
}

TEST_CASE("force performance: zeros that differ between series are no error", "[calibration]") {
  const ForcePerformance performance = calibration::force_performance(cell_with({}));
  for (const auto& point : performance.points) {
    // Because a line of value on reading is flatter by the square of scatter over spread: 1.03 N
    // over 316 N.
    CHECK_THAT(point.accuracy_percent, WithinAbs(0.0, 2e-3));
    CHECK_THAT(point.repeatability_percent, WithinAbs(0.0, 1e-6));
  }
}

TEST_CASE("machine class: the step of the display sets the load from which a class holds",
          "[calibration]") {
  Vices vices;
  vices.step = 80.0;  // 1 N
  const auto verdict = calibration::machine_class(calibration::force_performance(cell_with(vices)));
  // 1 N is 0.5 % of 200 N, where the verdict begins, and 1 % of 100 N.
  CHECK(verdict.of(Quantity7500::resolution_a).class_met == 1.0);
  CHECK_THAT(verdict.of(Quantity7500::resolution_a).at_N, WithinAbs(200.0, 1e-9));
  CHECK_THAT(verdict.of(Quantity7500::resolution_a).worst_percent, WithinRel(0.5, 1e-3));
  CHECK(verdict.overall == 1.0);
  CHECK_THAT(verdict.from_N, WithinAbs(200.0, 1e-9));
}

TEST_CASE("machine class: one quantity beyond every class leaves no class", "[calibration]") {
  ForcePerformance performance = calibration::force_performance(cell_with({}));
  REQUIRE(calibration::machine_class(performance).overall);
  performance.zero_return_percent = 0.31;  // class 3 allows 0.3
  const auto verdict = calibration::machine_class(performance);
  CHECK_FALSE(verdict.of(Quantity7500::zero_f0).class_met);
  CHECK_FALSE(verdict.overall);
}

TEST_CASE("machine class: one series repeats nothing and is no class", "[calibration]") {
  const auto verdict =
      calibration::machine_class(calibration::force_performance(cell_with({}, 1, 1)));
  CHECK_FALSE(verdict.of(Quantity7500::repeatability_b).measured);
  CHECK_FALSE(verdict.overall);
  CHECK_FALSE(verdict.enough_readings);
}

TEST_CASE("lower limit: the zero is where deflections count from, and no point of the curve",
          "[calibration]") {
  calibration::ReadingSet set = calibration_test::force_readings(7);
  const double before_N =
      calibration::lower_limit(calibration::make_calibration(set, 1).value()).standard_deviation_N;
  // Zeros that scatter far more than loads, about the same mean.
  double sign = 1.0;
  for (calibration::Reading& reading : set.readings) {
    if (reading.reference == 0.0) reading.reading += 500.0 * (sign = -sign);
  }
  const double after_N =
      calibration::lower_limit(calibration::make_calibration(set, 1).value()).standard_deviation_N;
  CHECK_THAT(after_N, WithinRel(before_N, 1e-3));
}

TEST_CASE("lower limit: never below the display's step or the smallest load", "[calibration]") {
  Vices vices;
  vices.bend_N = 0.0;
  vices.step = 400.0;  // 5 N
  const calibration::LowerLimit limit = calibration::lower_limit(cell_with(vices));
  CHECK_THAT(limit.lower_limit_factor_N, WithinRel(5.0, 0.01));
  CHECK_THAT(limit.class_a_from_N, WithinRel(2000.0, 0.01));
  // The zeros of the series differ by 1.25 N, which is scatter to this factor.
  vices.step = 0.0;
  CHECK_THAT(calibration::lower_limit(cell_with(vices)).standard_deviation_N,
             WithinAbs(1.03, 0.05));
}

calibration::CreepRun creep_run(double rise_counts, double time_constant_s, double lasts_s) {
  calibration::CreepRun run;
  run.load_N = 1000.0;
  for (double t = 0.0; t <= lasts_s; t += 60.0) {
    run.readings.push_back({t + 5.0, 85000.0 - rise_counts * std::expm1(-t / time_constant_s)});
  }
  return run;
}

TEST_CASE("creep: from the first reading to the last, and the two limits of 30 minutes",
          "[calibration]") {
  const auto creep = calibration::creep_performance(creep_run(24.0, 300.0, 1800.0), 1.0 / 80.0);
  REQUIRE(creep);
  CHECK_THAT(creep->first_to_last_N, WithinRel(0.3 * (1.0 - std::exp(-6.0)), 1e-9));
  CHECK_THAT(creep->first_to_last_percent, WithinRel(0.03 * (1.0 - std::exp(-6.0)), 1e-9));
  CHECK_THAT(creep->over_30_min_N.value(), WithinRel(0.3 * (1.0 - std::exp(-6.0)), 1e-9));
  CHECK_THAT(creep->from_20_to_30_min_N.value(),
             WithinRel(0.3 * (std::exp(-4.0) - std::exp(-6.0)), 1e-9));
  // 0.299 N: of 1500 intervals of 0.667 N it may be 0.49 v = 0.327 N, of 2000 0.245 N, of 2500
  // intervals of 0.4 N 0.735 v = 0.294 N.
  CHECK(creep->intervals_met == 1500);
}

TEST_CASE("creep: a run that is too short has no verdict", "[calibration]") {
  const auto creep = calibration::creep_performance(creep_run(24.0, 300.0, 600.0), 1.0 / 80.0);
  REQUIRE(creep);
  CHECK_THAT(creep->lasted_s, WithinAbs(600.0, 1e-9));
  CHECK_FALSE(creep->over_30_min_N);
  CHECK_FALSE(creep->intervals_met);
  CHECK_FALSE(calibration::creep_performance({1000.0, std::nullopt, {{5.0, 85000.0}}}, 0.0125));
}

TEST_CASE("creep: a cell that comes back before the end is judged by its worst", "[calibration]") {
  calibration::CreepRun run = creep_run(0.0, 300.0, 1800.0);
  run.readings[10].reading += 40.0;  // 0.5 N for a minute
  const auto creep = calibration::creep_performance(run, 1.0 / 80.0);
  REQUIRE(creep);
  CHECK_THAT(creep->first_to_last_N, WithinAbs(0.0, 1e-9));
  CHECK_THAT(creep->over_30_min_N.value(), WithinRel(0.5, 1e-9));
}

}  // namespace
