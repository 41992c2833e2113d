// A screw whose vices are put in by hand.
#include "calibration/performance/travel_performance.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::Calibration;
using calibration::TravelPerformance;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

constexpr double kStep_m = 1e-3 / 400.0;
constexpr double kLost_m = 30e-6;

struct Screw {
  double lost_going_down_m = 0.0;  // where the nut lags behind after turning downward
  double bend_m = 0.0;
  int series = 2;
  bool both_ways = true;
};

// A dial at the carriage: it moves to every 20 mm up to 160 mm and back. Turned upward again at the
// bottom, the lost motion is taken up once more.
Calibration screw_with(const Screw& screw) {
  calibration::ReadingSet set = calibration_test::empty_set(calibration::Kind::travel);
  for (int series = 1; series <= screw.series; ++series) {
    for (int i = 0; i <= (screw.both_ways ? 16 : 8); ++i) {
      const bool is_down = i > 8;
      const int place = is_down ? 16 - i : i;
      const double wobble_m = 1e-6 * ((7 * i + 3 * series) % 5 - 2);
      calibration::Reading reading;
      reading.reading = 8000.0 * place;
      const double part = place / 8.0;
      reading.reference = kStep_m * reading.reading + 4.0 * screw.bend_m * part * (1.0 - part) +
                          (is_down ? screw.lost_going_down_m : 0.0) + wobble_m;
      reading.series = series;
      reading.direction =
          is_down ? calibration::Direction::descending : calibration::Direction::ascending;
      set.readings.push_back(reading);
    }
  }
  return calibration::make_calibration(set, 1).value();
}

TEST_CASE("travel performance: scale and what is lost at each turn", "[calibration]") {
  Screw screw;
  screw.lost_going_down_m = kLost_m;
  const TravelPerformance performance = calibration::travel_performance(screw_with(screw));
  CHECK_THAT(performance.scale_m_per_step, WithinRel(kStep_m, 1e-3));
  // Because a dial that wobbles by 2 um is read twice: 4 um at most, 2 um in the mean.
  CHECK_THAT(performance.backlash_m.value(), WithinAbs(kLost_m, 4e-6));
  CHECK_THAT(performance.backlash_down_m.value(), WithinAbs(kLost_m, 2e-6));
  CHECK_THAT(performance.backlash_up_m.value(), WithinAbs(kLost_m, 2e-6));
  REQUIRE(performance.lost_motion);
  CHECK_THAT(performance.lost_motion->value_m, WithinAbs(kLost_m, 2e-6));
  CHECK(performance.lost_motion->standard_uncertainty_m > 0.0);
  CHECK(performance.lost_motion->standard_uncertainty_m < 2e-6);
  CHECK_THAT(performance.repeatability_m, WithinAbs(1.5e-6, 1e-6));
}

TEST_CASE("travel performance: a mean backlash is known better than one place's", "[calibration]") {
  calibration::ReadingSet set = calibration_test::empty_set(calibration::Kind::travel);
  // Up and down at four places; what is lost differs by -1, +1, -1, +1 um from the mean.
  for (int i = 0; i <= 9; ++i) {
    const bool is_down = i > 4;
    const int place = is_down ? 9 - i : i;
    calibration::Reading reading;
    reading.reading = 8000.0 * place;
    reading.reference = kStep_m * reading.reading;
    if (is_down) reading.reference += kLost_m + (place % 2 == 0 ? 1e-6 : -1e-6);
    reading.direction =
        is_down ? calibration::Direction::descending : calibration::Direction::ascending;
    set.readings.push_back(reading);
  }
  const Calibration made = calibration::make_calibration(set, 1).value();
  const auto lost = calibration::travel_performance(made).lost_motion.value();
  // Standard deviation of five values of one micrometre to either side, over the root of five.
  const double deviation_m = std::sqrt((3 * std::pow(0.8, 2) + 2 * std::pow(1.2, 2)) / 4.0) * 1e-6;
  CHECK_THAT(lost.standard_uncertainty_m, WithinRel(deviation_m / std::sqrt(5.0), 1e-6));
}

TEST_CASE("travel performance: the two turns are told apart", "[calibration]") {
  // The second way up starts 12 um off: what is lost turning upward differs by that.
  Screw screw;
  screw.lost_going_down_m = kLost_m;
  Calibration made = screw_with(screw);
  for (calibration::Reading& reading : made.readings) {
    const bool is_second_up =
        reading.series == 2 && reading.direction == calibration::Direction::ascending;
    if (is_second_up) reading.reference += 12e-6;
  }
  const TravelPerformance performance = calibration::travel_performance(made);
  CHECK_THAT(performance.backlash_up_m.value(), WithinAbs(kLost_m - 12e-6, 2e-6));
  // Downward there were two turns, of 30 and of 18 um.
  CHECK_THAT(performance.backlash_down_m.value(), WithinAbs(kLost_m - 6e-6, 2e-6));
}

TEST_CASE("travel performance: a bend is the linearity, not the backlash", "[calibration]") {
  Screw screw;
  screw.bend_m = 50e-6;
  const TravelPerformance performance = calibration::travel_performance(screw_with(screw));
  CHECK_THAT(performance.linearity_m.value(), WithinAbs(50e-6, 4e-6));
  CHECK_THAT(performance.backlash_m.value(), WithinAbs(0.0, 4e-6));
}

TEST_CASE("travel performance: one way alone says nothing of backlash", "[calibration]") {
  Screw screw;
  screw.both_ways = false;
  const TravelPerformance performance = calibration::travel_performance(screw_with(screw));
  CHECK_FALSE(performance.backlash_m);
  CHECK_FALSE(performance.backlash_up_m);
  CHECK_FALSE(performance.backlash_down_m);
  CHECK_FALSE(performance.lost_motion);
}

TEST_CASE("travel performance: gauge blocks are set, and the steps tell", "[calibration]") {
  // The block is the place; the steps differ by what is lost.
  calibration::ReadingSet set = calibration_test::empty_set(calibration::Kind::travel);
  for (int i = 0; i <= 16; ++i) {
    calibration::Reading reading;
    const bool is_down = i > 8;
    reading.reference = 0.020 * (is_down ? 16 - i : i);
    reading.reading = (reading.reference - (is_down ? kLost_m : 0.0)) / kStep_m + (i % 2 ? 0.4 : 0);
    set.readings.push_back(reading);
  }
  const Calibration made = calibration::make_calibration(set, 1).value();
  const TravelPerformance performance = calibration::travel_performance(made);
  CHECK_THAT(performance.backlash_m.value(), WithinAbs(kLost_m, 1.1e-6));  // 0.4 steps are 1 um
  CHECK(performance.lost_motion.value().value_m > 0.0);
  // It goes with the curve into every record.
  const protocol::AppliedCalibration applied = made.applied();
  REQUIRE(applied.backlash);
  CHECK(applied.backlash->value_m == performance.lost_motion->value_m);
}

}  // namespace
