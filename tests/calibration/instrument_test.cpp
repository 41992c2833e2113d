// Certificates at work: counts and steps to force and travel, and what stays in doubt.
#include "calibration/instrument.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "calibration/polynomial.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::Calibration;
using calibration::make_calibration;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace calibration_test;

TEST_CASE("instrument: counts become newtons, with today's zero taken off", "[calibration]") {
  const Calibration cell = make_calibration(force_readings(7)).value();
  const protocol::AppliedCalibration curve = cell.applied();
  CHECK(calibration::apply_force(curve, 20000.0) == cell.value(20000.0));
  CHECK_THAT(calibration::apply_force(curve, 12500.0 + 8000.0, 12500.0), WithinRel(100.0, 1e-3));
  CHECK(calibration::apply_force(curve, 12500.0, 12500.0) == 0.0);
}

TEST_CASE("instrument: travel counts from its zero and leaves the frame's deflection out",
          "[calibration]") {
  const protocol::AppliedCalibration travel = make_calibration(travel_readings())->applied();
  const protocol::AppliedCalibration frame = make_calibration(frame_readings())->applied();
  const double plain_m = calibration::apply_travel(travel, std::nullopt, 45000.0, 5000.0, 2000.0);
  CHECK_THAT(plain_m, WithinRel(0.100, 1e-3));  // a wobble of three steps in 56000
  const double true_m = calibration::apply_travel(travel, frame, 45000.0, 5000.0, 2000.0);
  CHECK_THAT(plain_m - true_m, WithinRel(0.0005, 0.01));  // 2000 N at 4 N/um
  CHECK(calibration::apply_travel(travel, frame, 5000.0, 5000.0, 0.0) == 0.0);
}

TEST_CASE("instrument: the covariance of the curve reaches the doubt of a record",
          "[calibration]") {
  const Calibration cell = make_calibration(force_readings(7)).value();
  const protocol::InstrumentDoubt doubt = calibration::instrument_doubt(&cell, nullptr);
  CHECK(doubt.calibrated);
  const double slope_relative = cell.coefficient_standard_uncertainty(1) / cell.coefficients[1];
  CHECK_THAT(doubt.gain_relative, WithinRel(std::hypot(slope_relative, 0.0005), 1e-9));
  CHECK(doubt.zero_N > cell.quality.residual_standard_deviation);
  CHECK_THAT(doubt.zero_N,
             WithinRel(cell.estimate(cell.reading_at(0.0).value()).standard_uncertainty, 1e-9));
  // What no certificate speaks of stays as assumed.
  CHECK(doubt.travel_zero_m == protocol::InstrumentDoubt{}.travel_zero_m);
  CHECK(doubt.gauge_relative == protocol::InstrumentDoubt{}.gauge_relative);
}

TEST_CASE("instrument: a noisier cell and a poorer standard leave more doubt", "[calibration]") {
  calibration::ReadingSet set = force_readings(7);
  const Calibration good = make_calibration(set).value();
  for (calibration::Reading& reading : set.readings) {
    const double ideal = kCellZero_counts + reading.reference / kCellSlope_N_count;
    reading.reading = ideal + 10.0 * (reading.reading - ideal);
  }
  const Calibration noisy = make_calibration(set).value();
  const protocol::InstrumentDoubt before = calibration::instrument_doubt(&good, nullptr);
  const protocol::InstrumentDoubt after = calibration::instrument_doubt(&noisy, nullptr);
  CHECK_THAT(after.zero_N / before.zero_N, WithinRel(10.0, 0.05));  // the slope moves a little
  CHECK(after.gain_relative > 1.5 * before.gain_relative);
}

TEST_CASE("instrument: a force beyond the calibrated range widens the gain by the stated prior",
          "[calibration]") {
  const Calibration cell = make_calibration(force_readings(7)).value();
  const double inside = calibration::instrument_doubt(&cell, nullptr, {}, 450.0).gain_relative;
  const double beyond = calibration::instrument_doubt(&cell, nullptr, {}, 2500.0).gain_relative;
  CHECK(inside == calibration::instrument_doubt(&cell, nullptr).gain_relative);
  // 0.2 % of the 2000 N beyond, relative to 2500 N.
  CHECK_THAT(beyond, WithinRel(std::hypot(inside, 0.0016), 1e-9));
}

TEST_CASE("instrument: what a bend may grow to beyond the range is in the gain", "[calibration]") {
  const calibration::ReadingSet set = force_readings(7);
  const Calibration line = make_calibration(set, 1).value();
  const Calibration curve = make_calibration(set, 2).value();
  const auto gain = [](const Calibration& cell, double largest_N) {
    return calibration::instrument_doubt(&cell, nullptr, {}, largest_N).gain_relative;
  };
  // Five times beyond its 500 N a bend of the same cell is in doubt by the square of that.
  const double reading = curve.reading_at(2500.0).value();
  const double zero = curve.reading_at(0.0).value();
  const double own_N =
      std::sqrt(calibration::polynomial_difference_variance(curve.covariance, reading, zero));
  CHECK(gain(curve, 2500.0) >= own_N / 2500.0);
  CHECK(gain(curve, 2500.0) > gain(line, 2500.0));
  CHECK_THAT(gain(curve, 400.0), WithinRel(gain(line, 400.0), 0.2));
}

TEST_CASE("instrument: without certificates the doubt stays an assumption", "[calibration]") {
  protocol::InstrumentDoubt assumed;
  assumed.gain_relative = 0.01;
  const protocol::InstrumentDoubt doubt = calibration::instrument_doubt(nullptr, nullptr, assumed);
  CHECK_FALSE(doubt.calibrated);
  CHECK(doubt.gain_relative == 0.01);
}

TEST_CASE("instrument: the scatter of the travel readings adds to the doubt of its zero",
          "[calibration]") {
  const Calibration travel = make_calibration(travel_readings()).value();
  const double scatter_m = travel.quality.residual_standard_deviation;
  CHECK_THAT(scatter_m, WithinAbs(5e-6, 4e-6));  // two steps of 2.5 um
  CHECK_THAT(calibration::instrument_doubt(nullptr, &travel).travel_zero_m,
             WithinRel(std::hypot(0.0002, scatter_m), 1e-12));
}

TEST_CASE("instrument: what is applied to a record carries curve, range and limit",
          "[calibration]") {
  const Calibration cell = make_calibration(force_readings(7), 2).value();
  const protocol::AppliedCalibration applied = cell.applied();
  CHECK(applied.id == cell.id);
  CHECK(applied.coefficients.size() == 3);
  CHECK(applied.covariance.size() == 9);
  CHECK(applied.range_high == 500.0);
  CHECK(applied.valid_until == "2027-11-25");
}

}  // namespace
