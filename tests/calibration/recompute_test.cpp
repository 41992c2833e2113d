// A record by another certificate.
#include "calibration/recompute.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "calibration/instrument.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::Calibration;
using calibration::make_calibration;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using protocol::SweepRecord;
using namespace calibration_test;

constexpr double kZero_counts = 12004.0;
constexpr double kZero_steps = 5000.0;

Calibration cell(double slope_factor) {
  calibration::ReadingSet set = force_readings(7);
  for (calibration::Reading& reading : set.readings) reading.reference *= slope_factor;
  return make_calibration(set).value();
}

// Three rows up and one down, as a rig with these certificates records them.
SweepRecord swept(const Calibration& force, const Calibration& travel, const Calibration& frame) {
  SweepRecord record;
  record.metadata.record_id = "first";
  record.metadata.zero_before_counts = kZero_counts;
  record.metadata.zero_after_counts = kZero_counts + 80.0;
  record.metadata.travel_zero_steps = kZero_steps;
  record.metadata.force_calibration = force.applied();
  record.metadata.travel_calibration = travel.applied();
  record.metadata.frame_calibration = frame.applied();
  record.metadata.doubt = calibration::instrument_doubt(&force, &travel);
  record.metadata.doubt.gauge_relative = 0.02;
  record.raw_counts = {14000, 28000, 50000, 27000};
  record.raw_steps = {5400, 15000, 33000, 15200};
  for (std::size_t i = 0; i < record.raw_counts.size(); ++i) {
    record.time_s.push_back(0.1 * static_cast<double>(i));
    record.force_N.push_back(calibration::apply_force(record.metadata.force_calibration.value(),
                                                      static_cast<double>(record.raw_counts[i]),
                                                      kZero_counts));
    record.travel_m.push_back(calibration::apply_travel(
        record.metadata.travel_calibration.value(), record.metadata.frame_calibration,
        static_cast<double>(record.raw_steps[i]), kZero_steps, record.force_N[i]));
  }
  return record;
}

SweepRecord swept() {
  return swept(cell(1.0), make_calibration(travel_readings()).value(),
               make_calibration(frame_readings()).value());
}

TEST_CASE("recompute: a record by its own certificates is the same record", "[calibration]") {
  const SweepRecord record = swept();
  const Calibration force = cell(1.0);
  const SweepRecord again = calibration::recompute(record, {&force, nullptr, nullptr}).value();
  CHECK(again.force_N == record.force_N);
  CHECK(again.travel_m == record.travel_m);
  CHECK(again.raw_counts == record.raw_counts);
  CHECK(again.metadata.recomputed_from == "first");
}

TEST_CASE("recompute: another scale of the cell scales the forces, and the frame's give with them",
          "[calibration]") {
  const SweepRecord record = swept();
  const Calibration force = cell(1.02);
  const SweepRecord again = calibration::recompute(record, {&force, nullptr, nullptr}).value();
  for (std::size_t i = 0; i < record.size(); ++i) {
    CHECK_THAT(again.force_N[i], WithinRel(1.02 * record.force_N[i], 1e-9));
    const double give_m = 0.02 * record.force_N[i] / 4e6;  // 4 N/um
    CHECK_THAT(again.travel_m[i], WithinAbs(record.travel_m[i] - give_m, 0.02 * give_m));
  }
  CHECK(again.metadata.force_calibration->id == force.id);
  CHECK(again.metadata.travel_calibration->id == record.metadata.travel_calibration->id);
  REQUIRE_FALSE(again.metadata.remarks.empty());
  CHECK_THAT(again.metadata.remarks[0], Contains(force.id.substr(0, 12)));
  // What no certificate speaks of stays as the record had it.
  CHECK(again.metadata.doubt.gauge_relative == 0.02);
}

TEST_CASE("recompute: the drift of the zero stays in the doubt, in the new newtons",
          "[calibration]") {
  const SweepRecord record = swept();
  const Calibration force = cell(2.0);
  const SweepRecord again = calibration::recompute(record, {&force, nullptr, nullptr}).value();
  const double without_N = calibration::instrument_doubt(&force, nullptr).zero_N;
  // 80 counts at 0.025 N each, anywhere between none and all.
  CHECK_THAT(again.metadata.doubt.zero_N,
             WithinRel(std::hypot(without_N, 80.0 * 0.025 / std::sqrt(3.0)), 1e-3));
}

TEST_CASE("recompute: beyond the new range the record says so", "[calibration]") {
  SweepRecord record = swept();
  record.raw_counts[2] = 92000;  // about 1000 N of a cell calibrated to 500 N
  const Calibration force = cell(1.0);
  const SweepRecord again = calibration::recompute(record, {&force, nullptr, nullptr}).value();
  CHECK_THAT(again.metadata.remarks.back(), Contains("beyond the calibrated range"));
  CHECK(again.metadata.doubt.gain_relative >
        calibration::instrument_doubt(&force, nullptr).gain_relative);
}

TEST_CASE("recompute: a record that does not name its travel zero tells it by its first row",
          "[calibration]") {
  SweepRecord record = swept();
  record.metadata.travel_zero_steps.reset();
  const Calibration travel = make_calibration(travel_readings()).value();
  const SweepRecord again = calibration::recompute(record, {nullptr, &travel, nullptr}).value();
  CHECK_THAT(*again.metadata.travel_zero_steps, WithinAbs(kZero_steps, 1e-3));
  for (std::size_t i = 0; i < record.size(); ++i) {
    CHECK_THAT(again.travel_m[i], WithinAbs(record.travel_m[i], 1e-9));
  }
}

TEST_CASE("recompute: what was never raw cannot be recomputed", "[calibration][fault]") {
  const Calibration force = cell(1.0);
  SweepRecord record = swept();
  SECTION("an imported curve") {
    record.raw_counts.clear();
  }
  SECTION("no zero") {
    record.metadata.zero_before_counts.reset();
  }
  SECTION("no travel curve") {
    record.metadata.travel_calibration.reset();
  }
  const auto again = calibration::recompute(record, {&force, nullptr, nullptr});
  REQUIRE_FALSE(again);
  CHECK(again.error().code == protocol::Errc::record_unusable);
  CHECK_THAT(again.error().message, Contains("cannot be recomputed"));
}

}  // namespace
