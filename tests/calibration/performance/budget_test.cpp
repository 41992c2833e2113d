// The budget of a calibration's reading: that it says what the calibration says, and counts nothing
// twice.
#include "calibration/performance/budget.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "calibration/instrument.hpp"
#include "calibration/performance/doubt.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::Budget;
using calibration::BudgetLine;
using calibration::Calibration;
using calibration::ReadingSet;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

const BudgetLine* find_line(const Budget& budget, std::string_view begins) {
  const auto line =
      std::find_if(budget.lines.begin(), budget.lines.end(), [&](const BudgetLine& each) {
        return std::string_view(each.source).substr(0, begins.size()) == begins;
      });
  return line == budget.lines.end() ? nullptr : &*line;
}

// Everything that can be in doubt: weights, no gravity, no air, a coarse display, creep.
ReadingSet doubtful_set() {
  ReadingSet set = calibration_test::force_readings(3);
  for (calibration::Reading& reading : set.readings) {
    reading.load_kg = reading.reference / protocol::kStandardGravity_m_s2;
  }
  set.resolution = 200.0;
  set.creep = calibration::CreepRun{500.0, std::nullopt, {{5.0, 52000.0}, {1200.0, 52040.0}}};
  return set;
}

TEST_CASE("budget: it says what the calibration's own estimate says", "[calibration]") {
  for (const ReadingSet& set :
       {calibration_test::force_readings(1), doubtful_set(), calibration_test::travel_readings(),
        calibration_test::frame_readings()}) {
    const Calibration made = calibration::make_calibration(set, 1).value();
    CAPTURE(calibration::kind_name(made.kind));
    const double span = made.readings.back().reading - made.readings.front().reading;
    for (const double part : {-0.2, 0.0, 0.3, 1.0, 4.0}) {
      const double reading = set.readings[0].reading + part * (span == 0.0 ? 40000.0 : span);
      const double zero = set.readings[0].reading;
      const calibration::Estimate plain = made.estimate(reading);
      const Budget of_plain = calibration::budget_of_reading(made, reading);
      CHECK(of_plain.value == plain.value);
      CHECK_THAT(of_plain.combined_standard_uncertainty,
                 WithinRel(plain.standard_uncertainty, 1e-12));
      const calibration::Estimate from_zero = made.estimate_from_zero(reading, zero);
      const Budget of_difference = calibration::budget_of_reading(made, reading, zero);
      CHECK(of_difference.value == from_zero.value);
      CHECK_THAT(of_difference.combined_standard_uncertainty,
                 WithinRel(from_zero.standard_uncertainty, 1e-12));
    }
  }
}

TEST_CASE("budget: at a value it is the budget of the reading that gives it", "[calibration]") {
  const Calibration cell =
      calibration::make_calibration(calibration_test::force_readings(1), 1).value();
  const Budget budget = calibration::budget_at(cell, 300.0);
  CHECK_THAT(budget.value, WithinAbs(300.0, 1e-6));
  CHECK_THAT(budget.at, WithinRel(cell.reading_at(300.0).value(), 1e-12));
  CHECK(budget.effective_degrees_of_freedom > 0.0);
  CHECK_THAT(budget.expanded_uncertainty,
             WithinRel(budget.coverage_factor * budget.combined_standard_uncertainty, 1e-12));
}

TEST_CASE("budget: curve and scatter come from one set of residuals", "[calibration]") {
  ReadingSet set = calibration_test::force_readings(1);
  set.particulars.standards[0].relative_standard_uncertainty = 1e-9;
  const Calibration cell = calibration::make_calibration(set, 1).value();
  REQUIRE(cell.covariance_scale == 1.0);
  const Budget budget = calibration::budget_at(cell, 500.0);
  CHECK_THAT(budget.effective_degrees_of_freedom,
             WithinRel(double(cell.quality.degrees_of_freedom), 1e-6));
  REQUIRE(find_line(budget, "scatter"));
  CHECK_THAT(find_line(budget, "scatter")->contribution,
             WithinRel(cell.quality.residual_standard_deviation, 1e-12));
  CHECK(find_line(budget, "scatter")->evaluation == 'A');
}

TEST_CASE("budget: what is not given has its line, what is given has none", "[calibration]") {
  const Calibration doubtful = calibration::make_calibration(doubtful_set(), 1).value();
  const Budget budget = calibration::budget_at(doubtful, 400.0);
  REQUIRE(find_line(budget, "gravity"));
  CHECK_THAT(find_line(budget, "gravity")->contribution,
             WithinRel(400.0 * calibration::kUnstatedGravityRelative, 1e-6));
  REQUIRE(find_line(budget, "standards"));
  CHECK_THAT(find_line(budget, "standards")->contribution, WithinRel(400.0 * 0.0005, 1e-6));
  REQUIRE(find_line(budget, "buoyancy"));
  // Half a width of 1.2/8000, rectangular.
  CHECK_THAT(find_line(budget, "buoyancy")->contribution,
             WithinRel(400.0 * 1.5e-4 / std::sqrt(3.0), 1e-6));
  REQUIRE(find_line(budget, "creep"));
  CHECK_THAT(find_line(budget, "creep")->contribution,
             WithinRel(400.0 * 40.0 * doubtful.coefficients[1] / 500.0 / std::sqrt(3.0), 1e-6));

  ReadingSet stated = doubtful_set();
  stated.conditions.gravity_m_s2 = 9.81;
  stated.conditions.air_density_kg_m3 = 1.2;
  stated.creep.reset();
  const Budget known =
      calibration::budget_at(calibration::make_calibration(stated, 1).value(), 400.0);
  CHECK_FALSE(find_line(known, "gravity"));
  CHECK_FALSE(find_line(known, "buoyancy"));
  CHECK_FALSE(find_line(known, "creep"));
  CHECK(known.combined_standard_uncertainty < budget.combined_standard_uncertainty);
}

TEST_CASE("budget: a display's step counts only as far as the scatter does not hold it",
          "[calibration]") {
  ReadingSet set = calibration_test::force_readings(1);
  const auto with_step = [&](double counts) {
    set.resolution = counts;
    return calibration::make_calibration(set, 1).value();
  };
  const Budget none = calibration::budget_at(with_step(0.0), 300.0);
  const Budget fine = calibration::budget_at(with_step(1.0), 300.0);
  CHECK(fine.combined_standard_uncertainty == none.combined_standard_uncertainty);
  REQUIRE(find_line(fine, "step of the display"));
  CHECK(find_line(fine, "step of the display")->sensitivity == 0.0);
  // 1000 counts are 12.5 N: far more than the scatter, which it then takes the place of.
  const Calibration coarse_cell = with_step(1000.0);
  const Budget coarse = calibration::budget_at(coarse_cell, 300.0);
  const double step_N = 500.0 / std::sqrt(3.0) * std::abs(coarse_cell.coefficients[1]);
  const double both = std::hypot(find_line(coarse, "step of the display")->contribution,
                                 find_line(coarse, "scatter")->contribution);
  CHECK_THAT(both, WithinRel(step_N, 1e-9));
}

TEST_CASE("budget: readings up and down hold the reversibility in their scatter", "[calibration]") {
  ReadingSet set = calibration_test::force_readings(1);
  const auto is_down = [](size_t i) { return i % 11 > 5; };
  for (size_t i = 0; i < set.readings.size(); ++i) {
    if (is_down(i)) set.readings[i].reading += 200.0;  // 2.5 N
  }
  const Calibration cell = calibration::make_calibration(set, 1).value();
  const Budget budget = calibration::budget_at(cell, 300.0);
  const BudgetLine* line = find_line(budget, "reversibility");
  REQUIRE(line);
  CHECK(line->sensitivity == 0.0);
  CHECK(line->contribution == 0.0);
  // The two directions lie 2.5 N apart, 1.25 N to each side of the curve: so does the scatter say.
  CHECK_THAT(find_line(budget, "scatter")->contribution, WithinAbs(1.25, 0.15));
  CHECK(cell.quality.residual_standard_deviation > 1.0);
}

TEST_CASE("budget: beyond the calibrated range the prior has its line", "[calibration]") {
  const Calibration cell =
      calibration::make_calibration(calibration_test::force_readings(1), 1).value();
  CHECK_FALSE(find_line(calibration::budget_at(cell, 400.0), "beyond"));
  const Budget far = calibration::budget_at(cell, 2500.0);
  REQUIRE(find_line(far, "beyond"));
  CHECK_THAT(find_line(far, "beyond")->contribution, WithinRel(0.002 * 2000.0, 1e-6));
}

TEST_CASE("budget: what is in proportion to the force reaches the records of sweeps",
          "[calibration]") {
  const Calibration doubtful = calibration::make_calibration(doubtful_set(), 1).value();
  const double proportional = std::sqrt(std::pow(calibration::kUnstatedGravityRelative, 2) +
                                        std::pow(0.0005, 2) + std::pow(1.5e-4, 2) / 3.0 +
                                        std::pow(40.0 * doubtful.coefficients[1] / 500.0, 2) / 3.0);
  CHECK_THAT(calibration::proportional_doubt_relative(doubtful), WithinRel(proportional, 1e-3));
  const protocol::InstrumentDoubt doubt = calibration::instrument_doubt(&doubtful, nullptr);
  CHECK(doubt.gain_relative > 0.999 * proportional);
  CHECK(doubt.gain_relative < 1.05 * proportional);  // and the slope's own, of 40 readings
}

}  // namespace
