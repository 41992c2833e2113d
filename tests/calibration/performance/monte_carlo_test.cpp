// Propagation of distributions against the examples of JCGM 101, and the dead weight tried both
// ways.
#include "calibration/monte_carlo.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "calibration/performance/dead_weight.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::Draws;
using calibration::MonteCarlo;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

constexpr int kTrials = 1000000;

TEST_CASE("monte carlo: the sum of four normal quantities", "[calibration][oracle]") {
  // Source: [JCGM101] 9.2.2: 0, u 2.00, 95 % within 3.92.
  const MonteCarlo sum = calibration::propagate(
      [](Draws& draws) {
        double total = 0.0;
        for (int i = 0; i < 4; ++i) total += draws.normal(0.0, 1.0);
        return total;
      },
      kTrials, 922);
  CHECK_THAT(sum.mean, WithinAbs(0.0, 0.01));  // five standard deviations of the mean
  CHECK_THAT(sum.standard_uncertainty, WithinAbs(2.00, 0.01));
  // The shortest interval slides freely where the density is flat to second order, so its length
  // is sharper than its ends.
  CHECK_THAT(0.5 * (sum.high - sum.low), WithinAbs(3.92, 0.015));
  CHECK_THAT(0.5 * (sum.high + sum.low), WithinAbs(0.0, 0.08));
}

TEST_CASE("monte carlo: the sum of four rectangular quantities", "[calibration][oracle]") {
  // Source: [JCGM101] 9.2.3: u 2.00, 95 % within 3.88; exact 3.8794067.
  const double half_width = std::sqrt(3.0);
  const MonteCarlo sum = calibration::propagate(
      [&](Draws& draws) {
        double total = 0.0;
        for (int i = 0; i < 4; ++i) total += draws.rectangular(-half_width, half_width);
        return total;
      },
      kTrials, 923);
  CHECK_THAT(sum.standard_uncertainty, WithinAbs(2.00, 0.01));
  CHECK_THAT(0.5 * (sum.high - sum.low), WithinAbs(3.8794067, 0.012));
  // Not the normal factor: the two examples can be told apart.
  CHECK(0.5 * (sum.high - sum.low) < 3.90);
}

// Mass calibration, in mg and kg/m3.
double deviation_mg(Draws& draws) {
  const double reference_mg = draws.normal(100000.0, 0.050);
  const double added_mg = draws.normal(1.234, 0.020);
  const double air = draws.rectangular(1.10, 1.30);
  const double weight = draws.rectangular(7000.0, 9000.0);
  const double reference = draws.rectangular(7950.0, 8050.0);
  return (reference_mg + added_mg) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / reference)) -
         100000.0;
}

TEST_CASE("monte carlo: calibration of a mass, and the budget that fails it",
          "[calibration][oracle]") {
  // Source: [JCGM101] 9.3, Table 6 from memory; 1.234006, u 0.0754512 and the shortest interval
  // 1.08465 to 1.38369 recomputed with ten million trials. Tolerance 0.003: the limits of one run
  // scatter by 0.0009.
  const MonteCarlo trials = calibration::propagate(deviation_mg, kTrials, 93);
  constexpr double kTolerance = 0.003;
  CHECK_THAT(trials.mean, WithinAbs(1.2340, 0.0005));
  CHECK_THAT(trials.standard_uncertainty, WithinAbs(0.0754, 0.0005));
  CHECK_THAT(trials.low, WithinAbs(1.0834, kTolerance));
  CHECK_THAT(trials.high, WithinAbs(1.3825, kTolerance));
  CHECK_THAT(trials.low, WithinAbs(1.08465, kTolerance));
  CHECK_THAT(trials.high, WithinAbs(1.38369, kTolerance));

  // To first order air and densities cancel: u 0.0539, 1.1285 to 1.3395, which is not validated.
  calibration::BudgetLine reference;
  reference.standard_uncertainty = 0.050;
  calibration::BudgetLine added;
  added.standard_uncertainty = 0.020;
  const calibration::Budget budget = calibration::combine({reference, added});
  CHECK_THAT(budget.combined_standard_uncertainty, WithinAbs(0.0539, 5e-5));
  CHECK_THAT(1.2340 - budget.expanded_uncertainty, WithinAbs(1.1285, 1e-4));
  CHECK_THAT(1.2340 + budget.expanded_uncertainty, WithinAbs(1.3395, 1e-4));
  const calibration::Validation first_order = calibration::validate_interval(
      1.2340, budget.expanded_uncertainty, budget.combined_standard_uncertainty, trials);
  CHECK_FALSE(first_order.agrees);
  CHECK_THAT(first_order.low_difference, WithinAbs(0.045, 0.004));
  // With the second order, u 0.0750 and 1.0870 to 1.3810, the one digit that counts is right.
  const calibration::Validation second_order = calibration::validate_interval(
      1.2340, 1.3810 - 1.2340, trials.standard_uncertainty, trials, 1);
  CHECK(second_order.agrees);
}

TEST_CASE("monte carlo: comparison loss, where nothing is normal", "[calibration][oracle]") {
  // Source: [JCGM101] 9.4, y = x1^2 + x2^2, u 0.005, no correlation; exact from the non-central
  // chi-squared distribution. In millionths.
  struct Row {
    double x1;
    double mean;
    double u;
    double low;
    double high;
  };
  for (const Row& row :
       {Row{0.0, 50.0, 50.0, 0.0, 149.79}, Row{0.010, 150.0, 111.803, 0.0, 366.005},
        Row{0.050, 2550.0, 502.494, 1593.570, 3548.570}}) {
    CAPTURE(row.x1);
    const MonteCarlo loss = calibration::propagate(
        [&](Draws& draws) {
          const double x1 = draws.normal(row.x1, 0.005);
          const double x2 = draws.normal(0.0, 0.005);
          return 1e6 * (x1 * x1 + x2 * x2);
        },
        kTrials, 94);
    CHECK_THAT(loss.mean, WithinAbs(row.mean, 0.006 * row.u));  // six standard deviations
    CHECK_THAT(loss.standard_uncertainty, WithinRel(row.u, 0.01));
    CHECK_THAT(loss.low, WithinAbs(row.low, 0.03 * row.u));
    CHECK_THAT(loss.high, WithinAbs(row.high, 0.03 * row.u));
  }
}

TEST_CASE("monte carlo: the logarithm of a rectangular quantity", "[calibration][oracle]") {
  // Source: [NPL-DEM-ES-011] 9.2: -0.665, u 0.606, shortest interval -1.895 to 0.095.
  const MonteCarlo logarithm = calibration::propagate(
      [](Draws& draws) { return std::log(draws.rectangular(0.1, 1.1)); }, kTrials, 11);
  CHECK_THAT(logarithm.mean, WithinAbs(-0.665, 0.003));  // the last digit printed, and the draws
  CHECK_THAT(logarithm.standard_uncertainty, WithinAbs(0.606, 0.003));
  CHECK_THAT(logarithm.low, WithinAbs(-1.895, 0.005));
  CHECK_THAT(logarithm.high, WithinAbs(0.095, 0.001));
}

TEST_CASE("monte carlo: the numerical tolerance of an uncertainty", "[calibration][oracle]") {
  // Source: [JCGM101] 7.9.2, definition from memory: half a unit in the last significant digit.
  CHECK_THAT(calibration::numerical_tolerance(0.00054, 2), WithinRel(0.000005, 1e-9));
  CHECK_THAT(calibration::numerical_tolerance(0.54, 1), WithinRel(0.05, 1e-9));
  CHECK_THAT(calibration::numerical_tolerance(32.0, 2), WithinRel(0.5, 1e-9));
  CHECK_THAT(calibration::numerical_tolerance(0.0996, 2), WithinRel(0.005, 1e-9));
}

TEST_CASE("monte carlo: a seed means the same numbers", "[calibration]") {
  const auto run = [](uint64_t seed) {
    return calibration::propagate([](Draws& draws) { return draws.normal(3.0, 2.0); }, 1000, seed);
  };
  CHECK(run(5).mean == run(5).mean);
  CHECK(run(5).low == run(5).low);
  CHECK(run(5).mean != run(6).mean);
}

calibration::Calibration weights_calibration(std::optional<double> gravity_m_s2,
                                             std::optional<double> air_density_kg_m3) {
  calibration::ReadingSet set = calibration_test::force_readings(7);
  set.conditions.gravity_m_s2 = gravity_m_s2;
  set.conditions.air_density_kg_m3 = air_density_kg_m3;
  set.particulars.standards = {{"weights", "W-1", 0.0005}};
  for (calibration::Reading& reading : set.readings) {
    reading.load_kg = reading.reference / protocol::kStandardGravity_m_s2;
  }
  return calibration::make_calibration(set, 1).value();
}

TEST_CASE("dead weight: the budget stands up to the trials where place and air are known",
          "[calibration]") {
  const auto tried = calibration::dead_weight_validation(weights_calibration(9.81, 1.2));
  REQUIRE(tried);
  CHECK(tried->validation.agrees);
  CHECK(tried->sentence.find("agree within") != std::string::npos);
  CHECK_THAT(tried->trials.mean, WithinRel(tried->budget.value, 1e-5));
  CHECK_THAT(tried->trials.standard_uncertainty,
             WithinRel(tried->budget.combined_standard_uncertainty, 0.01));
}

TEST_CASE("dead weight: where gravity is guessed the budget is the wider one", "[calibration]") {
  const auto tried = calibration::dead_weight_validation(weights_calibration(std::nullopt, 1.2));
  REQUIRE(tried);
  // A rectangle has no tails: 95 % of it ends before 1.96 standard deviations do.
  CHECK_FALSE(tried->validation.agrees);
  CHECK(tried->sentence.find("wider one") != std::string::npos);
  CHECK(tried->trials.high < tried->budget.value + tried->budget.expanded_uncertainty);
}

TEST_CASE("dead weight: no weights, nothing to try", "[calibration]") {
  const auto cell = calibration::make_calibration(calibration_test::force_readings(7), 1);
  REQUIRE(cell);
  CHECK_FALSE(calibration::dead_weight_validation(*cell));
}

}  // namespace
