// Published examples and limits for load cells and machines: linearity by end points, the limits
// and definitions of ISO 7500-1, the lower limit factor, creep, means that lose digits.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "calibration/calibrate.hpp"
#include "calibration/performance/creep.hpp"
#include "calibration/performance/end_points.hpp"
#include "calibration/performance/lower_limit.hpp"
#include "calibration/performance/machine_class.hpp"
#include "calibration/statistics.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::Quantity7500;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

TEST_CASE("end points: the range calibration of a pressure gauge", "[calibration][oracle]") {
  // Source: [Kessel2012] pressures, indications, end-point slope and linearity residuals.
  const std::vector<double> pressures = {0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20};
  const std::vector<double> indications = {0,      .2039,  .4080,  .6120,  .8160, 1.0201,
                                           1.2242, 1.4283, 1.6325, 1.8367, 2.0410};
  constexpr std::array<double, 11> kResiduals = {0,     .00196, .00196, .00294, .00392, .0039,
                                                 .0039, .0039,  .0029,  .0020,  0};
  const std::vector<double> deviations = calibration::end_point_deviations(indications, pressures);
  for (size_t i = 0; i < kResiduals.size(); ++i) {
    CAPTURE(i);
    // The residual there is value less line; four decimals are given from the sixth on.
    CHECK_THAT(-deviations[i], WithinAbs(kResiduals[i], i < 5 ? 5.1e-6 : 5.1e-5));
  }
  // The slope, through the deviation of a value that does not lie on the line.
  const std::array<double, 3> x = {0.0, 1.0, 2.0410};
  const std::array<double, 3> y = {0.0, 0.0, 20.0};
  CHECK_THAT(calibration::end_point_deviations(x, y)[1], WithinRel(9.799118079372857, 1e-14));
}

TEST_CASE("means: univariate data that lose their digits in one pass", "[calibration][oracle]") {
  // Source: [NIST-NumAcc] NumAcc1 and NumAcc4, certified mean and standard deviation; the
  // values from memory, and plain from the data.
  const std::vector<double> first = {10000001, 10000003, 10000002};
  CHECK(calibration::mean_of(first) == 10000002.0);
  CHECK(calibration::standard_deviation_of(first) == 1.0);
  std::vector<double> fourth = {10000000.2};
  for (int i = 0; i < 500; ++i) {
    fourth.push_back(10000000.1);
    fourth.push_back(10000000.3);
  }
  CHECK_THAT(calibration::mean_of(fourth), WithinRel(10000000.2, 1e-15));
  // The data themselves are rounded to 2e-9 of 0.1.
  CHECK_THAT(calibration::standard_deviation_of(fourth), WithinRel(0.1, 2e-8));
}

// One calibration that shows forces as they are put in: 1 count is 1 N, and the curve is nearly
// the straight line through zero, since the readings at the ends are without error.
calibration::Calibration shown_forces(const std::vector<calibration::Reading>& readings) {
  calibration::Calibration cell;
  cell.kind = calibration::Kind::force;
  cell.coefficients = {0.0, 1.0};
  cell.covariance = {0.0, 0.0, 0.0, 0.0};
  cell.readings = readings;
  return cell;
}

calibration::Reading shown(double reading, double load_N, int series, bool is_down = false) {
  calibration::Reading result;
  result.reading = reading;
  result.reference = load_N;
  result.series = series;
  result.direction =
      is_down ? calibration::Direction::descending : calibration::Direction::ascending;
  return result;
}

TEST_CASE("machine class: three forces up and one down", "[calibration][oracle]") {
  // Source: [ISO7500-1] definitions of q, b and v (from memory); example computed: 100 N shown as
  // 100.4, 100.1, 99.9, coming down 100.9 in the third series.
  const auto performance = calibration::force_performance(
      shown_forces({shown(100.4, 100, 1), shown(100.1, 100, 2), shown(99.9, 100, 3),
                    shown(200.0, 200, 3), shown(100.9, 100, 3, true)}));
  REQUIRE(performance.points.size() == 2);
  const calibration::LoadPoint& point = performance.points.front();
  CHECK_THAT(point.accuracy_percent, WithinAbs(0.13333333, 1e-7));  // eight digits
  CHECK_THAT(point.repeatability_percent, WithinAbs(0.5, 1e-9));    // exact but for rounding
  CHECK_THAT(point.reversibility_percent.value(), WithinAbs(1.0, 1e-9));
  CHECK(point.series == 3);
  const calibration::ClassVerdict verdict = calibration::machine_class(performance);
  CHECK(verdict.of(Quantity7500::reversibility_v).class_met == 1.0);
  CHECK_FALSE(verdict.of(Quantity7500::zero_f0).measured);
  CHECK_FALSE(verdict.of(Quantity7500::resolution_a).measured);
  CHECK(verdict.overall == 1.0);
  CHECK_FALSE(verdict.enough_readings);
  CHECK(verdict.from_N == 100.0);
}

TEST_CASE("machine class: the limits of the four classes", "[calibration][oracle]") {
  // Source: [ISO7500-1] table of largest permissible values, percent.
  constexpr std::array<std::array<double, 6>, 4> kTable = {{
      {0.5, 0.5, 0.5, 0.75, 0.05, 0.25},
      {1.0, 1.0, 1.0, 1.5, 0.1, 0.5},
      {2.0, 2.0, 2.0, 3.0, 0.2, 1.0},
      {3.0, 3.0, 3.0, 4.5, 0.3, 1.5},
  }};
  for (const auto& [name, q, b, v, f0, a] : kTable) {
    CAPTURE(name);
    CHECK(calibration::limit_percent(Quantity7500::accuracy_q, name) == q);
    CHECK(calibration::limit_percent(Quantity7500::repeatability_b, name) == b);
    CHECK(calibration::limit_percent(Quantity7500::reversibility_v, name) == v);
    CHECK(calibration::limit_percent(Quantity7500::zero_f0, name) == f0);
    CHECK(calibration::limit_percent(Quantity7500::resolution_a, name) == a);
    // Each limit is met at its edge and not beyond it.
    for (size_t i = 0; i < calibration::kQuantities7500; ++i) {
      const auto quantity = static_cast<Quantity7500>(i);
      for (const double part : {0.999, 1.001}) {
        calibration::ForcePerformance performance;
        performance.full_scale_N = 100.0;
        const double percent = part * calibration::limit_percent(quantity, name);
        calibration::LoadPoint point;
        point.load_N = 100.0;
        point.series = 3;
        if (quantity == Quantity7500::accuracy_q) point.accuracy_percent = -percent;
        if (quantity == Quantity7500::repeatability_b) point.repeatability_percent = percent;
        if (quantity == Quantity7500::reversibility_v) point.reversibility_percent = percent;
        if (quantity == Quantity7500::resolution_a) point.resolution_percent = percent;
        if (quantity == Quantity7500::zero_f0) performance.zero_return_percent = -percent;
        performance.points = {point};
        const auto met = calibration::machine_class(performance).of(quantity).class_met;
        if (part < 1.0) {
          CHECK(met == name);
        } else {
          CHECK((!met || *met > name));
        }
      }
    }
  }
}

TEST_CASE("lower limit: the factor of a published load-cell calibration", "[calibration][oracle]") {
  // Source: [ASTM-E74] 2.4 standard deviations, class A from 400, class AA from 2000 factors; on
  // the data of [NIST-Pontius] computed: 681.29 with the ratio at full scale, class A from 272515,
  // class AA from 1362573.
  const std::vector<double> deflection = {
      .11019,  .21956,  .32949,  .43899,  .54803,  .65694,  .76562,  .87487,  .98292,  1.09146,
      1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
      .11052,  .22018,  .32939,  .43886,  .54798,  .65739,  .76596,  .87474,  .98300,  1.09150,
      1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829};
  calibration::ReadingSet set = calibration_test::empty_set(calibration::Kind::force);
  for (size_t i = 0; i < deflection.size(); ++i) {
    set.readings.push_back(
        shown(deflection[i], 150000.0 * static_cast<double>(i % 20 + 1), i < 20 ? 1 : 2));
  }
  const auto cell = calibration::make_calibration(set, 2);
  REQUIRE(cell);
  const calibration::LowerLimit limit = calibration::lower_limit(*cell);
  // 5e-4, because our deflection counts from where the curve crosses zero.
  CHECK_THAT(limit.lower_limit_factor_N, WithinRel(681.29, 5e-4));
  CHECK_THAT(limit.standard_deviation_N, WithinRel(681.29 / 2.4, 5e-4));
  CHECK_THAT(limit.class_a_from_N, WithinRel(272515.0, 5e-4));
  CHECK_THAT(limit.class_aa_from_N, WithinRel(1362573.0, 5e-4));
}

TEST_CASE("creep: error limits of a load cell and its creep", "[calibration][oracle]") {
  // Source: [OIML-R60-1] class C limits of 0.5, 1 and 1.5 v up to 500, 2000 and 10000 v, times 0.7;
  // worked example of a C3 cell: creep at most 0.735 v in 30 minutes and 0.1575 v from the 20th on.
  CHECK_THAT(calibration::load_cell_error_limit_v(500.0), WithinRel(0.35, 1e-12));
  CHECK_THAT(calibration::load_cell_error_limit_v(500.1), WithinRel(0.7, 1e-12));
  CHECK_THAT(calibration::load_cell_error_limit_v(2000.0), WithinRel(0.7, 1e-12));
  CHECK_THAT(calibration::load_cell_error_limit_v(2000.1), WithinRel(1.05, 1e-12));
  const calibration::CreepLimits limits = calibration::creep_limits(3000.0);
  CHECK_THAT(limits.over_30_min_v, WithinRel(0.735, 1e-12));
  CHECK_THAT(limits.from_20_to_30_min_v, WithinRel(0.1575, 1e-12));
}

}  // namespace
