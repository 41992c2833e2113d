// Which degree a curve gets, and what counts as a repeat.
#include "calibration/degree_choice.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::Calibration;
using calibration::Direction;
using calibration::find_repeats;
using calibration::Kind;
using calibration::make_calibration;
using calibration::Reading;
using calibration::ReadingSet;
using calibration::Repeats;
using Catch::Matchers::Contains;
using namespace calibration_test;

// Adds bend_counts * shape(load / 500 N) to every reading.
template <class Shape>
ReadingSet bent(unsigned seed, double bend_counts, Shape shape) {
  ReadingSet set = force_readings(seed);
  for (Reading& reading : set.readings) {
    reading.reading += bend_counts * shape(reading.reference / 500.0);
  }
  return set;
}

TEST_CASE("degree: a straight cell gets a line nineteen times in twenty", "[calibration]") {
  int lines = 0;
  constexpr int kTrials = 200;
  for (unsigned seed = 1; seed <= kTrials; ++seed) {
    if (make_calibration(force_readings(seed))->degree() == 1) ++lines;
  }
  // 95 % of 200, with 3.3 binomial standard deviations of 3.1.
  CHECK(lines >= 180);
  CHECK(lines <= 199);
}

TEST_CASE("degree: a bend asks for a quadratic, a wave for a cubic", "[calibration]") {
  const Calibration bend =
      make_calibration(bent(3, 400.0, [](double p) { return p * (1.0 - p); })).value();
  CHECK(bend.degree() == 2);
  REQUIRE(bend.degree_trials.size() == 3);
  CHECK(bend.degree_trials[0].lack_of_fit->probability < 1e-6);
  CHECK(bend.degree_trials[1].lack_of_fit->probability >= 0.05);
  const Calibration wave =
      make_calibration(bent(3, 1600.0, [](double p) { return p * (p - 0.5) * (p - 1.0); })).value();
  CHECK(wave.degree() == 3);
}

TEST_CASE("degree: hysteresis hides no bend and asks for no curve", "[calibration]") {
  const auto lagging = [](double bend_counts) {
    ReadingSet set = bent(3, bend_counts, [](double p) { return p * (1.0 - p); });
    for (size_t i = 0; i < set.readings.size(); ++i) {
      const bool is_down = i % 11 > 5;
      const double part = set.readings[i].reference / 500.0;
      set.readings[i].reading += (is_down ? 300.0 : -300.0) * part * (1.0 - part);
    }
    return make_calibration(set).value();
  };
  CHECK(lagging(0.0).degree() == 1);
  // The loop is wider than the bend is high; counted as scatter it would hide it.
  CHECK(lagging(200.0).degree() == 2);
}

TEST_CASE("degree: where none follows the repeats, the last that is worth its coefficient",
          "[calibration]") {
  // A kink at half range, with repeats far better than any cubic can follow.
  ReadingSet set = force_readings(3);
  for (Reading& reading : set.readings) {
    const double counts = kCellZero_counts + reading.reference / kCellSlope_N_count;
    reading.reading =
        counts + 0.001 * (reading.reading - counts) + (reading.reference > 250.0 ? 400.0 : 0.0);
  }
  const Calibration cell = make_calibration(set).value();
  CHECK_THAT(cell.remarks.at(0), Contains("No degree up to 3 follows the loads"));
  const auto& trials = cell.degree_trials;
  REQUIRE(trials.size() == 3);
  const auto place = static_cast<size_t>(cell.degree()) - 1;
  for (size_t i = 0; i < place; ++i) {
    CHECK(trials[i + 1].residual_standard_deviation < 0.9 * trials[i].residual_standard_deviation);
  }
  if (place < 2) {
    CHECK(trials[place + 1].residual_standard_deviation >=
          0.9 * trials[place].residual_standard_deviation);
  }
}

TEST_CASE("degree: where each degree still helps, the highest that was tried, and said so",
          "[calibration]") {
  ReadingSet set = force_readings(3);
  for (Reading& reading : set.readings) {
    const double counts = kCellZero_counts + reading.reference / kCellSlope_N_count;
    reading.reading = counts + 0.001 * (reading.reading - counts) +
                      4000.0 * std::pow(reading.reference / 500.0, 5);
  }
  const Calibration cell = make_calibration(set).value();
  CHECK(cell.degree() == 3);
  CHECK_THAT(cell.remarks.at(0), Contains("degree 3 is taken, the highest that was tried"));
}

TEST_CASE("degree: without repeats it is a line, and said so", "[calibration]") {
  const Calibration screw = make_calibration(travel_readings()).value();
  CHECK(screw.degree() == 1);
  CHECK_THAT(screw.remarks.at(0), Contains("lack of fit cannot be tested"));
}

TEST_CASE("degree: a degree that is asked for is taken, without trials", "[calibration]") {
  const Calibration cell = make_calibration(force_readings(7), 3).value();
  CHECK(cell.degree() == 3);
  CHECK(cell.degree_trials.empty());
}

TEST_CASE("degree: a frame that stiffens gets a curve through the origin", "[calibration]") {
  ReadingSet set = empty_set(Kind::frame);
  const double wobble_m[] = {1e-7, -1e-7, 0.5e-7};
  for (int series = 1; series <= 3; ++series) {
    for (int i = 1; i <= 6; ++i) {
      Reading reading;
      // Each series stops at a force of its own, as a press does.
      reading.reading = 250.0 * i + 0.4 * series;
      const double compliance_m_N = 3e-7 - 5e-11 * reading.reading;
      reading.reference = compliance_m_N * reading.reading + wobble_m[(series + i) % 3];
      reading.series = series;
      set.readings.push_back(reading);
    }
  }
  const Calibration frame = make_calibration(set).value();
  CHECK(frame.through_origin);
  CHECK(frame.degree() == 2);
  CHECK(frame.value(0.0) == 0.0);
}

TEST_CASE("repeats: one load, one direction", "[calibration]") {
  const auto reading = [](double load, Direction direction) {
    Reading one;
    one.reference = load;
    one.direction = direction;
    return one;
  };
  using enum Direction;
  const std::vector<Reading> readings = {reading(0.0, ascending),    reading(500.2, ascending),
                                         reading(1000.0, ascending), reading(499.9, descending),
                                         reading(0.0, ascending),    reading(499.6, ascending)};
  const Repeats repeats = find_repeats(readings);
  // 0.6 N apart are one load of 1000 N; 0.5 % would be 5 N.
  CHECK(repeats.loads == std::vector<int>{0, 1, 2, 1, 0, 1});
  CHECK(repeats.load_count == 3);
  CHECK(repeats.cell_count == 4);
  CHECK(repeats.cells[1] == repeats.cells[5]);
  CHECK(repeats.cells[1] != repeats.cells[3]);
}

TEST_CASE("repeats: in a single series up and down stand for repeats", "[calibration]") {
  const ReadingSet set = force_readings(1, 1);
  const Calibration cell = make_calibration(set, 1).value();
  REQUIRE(cell.quality.lack_of_fit.has_value());
  CHECK(cell.quality.lack_of_fit->pure_error_degrees_of_freedom == 5);  // 11 readings, 6 loads
}

}  // namespace
