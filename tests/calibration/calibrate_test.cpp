// Readings to calibration: what is worked out, what is assumed, and what is refused.
#include "calibration/calibrate.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calibration/polynomial_fit.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::Calibration;
using calibration::Direction;
using calibration::Kind;
using calibration::make_calibration;
using calibration::Reading;
using calibration::ReadingSet;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using protocol::Errc;
using namespace calibration_test;

TEST_CASE("calibrate: a noisy cell gives back its gain and zero", "[calibration]") {
  const Calibration cell = make_calibration(force_readings(7)).value();
  const double u_gain = cell.coefficient_standard_uncertainty(1);
  // Four standard uncertainties, because the seed is fixed and one in ten thousand is enough.
  CHECK(std::abs(cell.coefficients[1] - kCellSlope_N_count) < 4.0 * u_gain);
  CHECK_THAT(cell.value(kCellZero_counts), WithinAbs(0.0, 0.2));  // four times its curve's doubt
  CHECK_THAT(u_gain / kCellSlope_N_count, WithinRel(1e-4, 0.5));  // 8 counts over 40000, 33 times
  CHECK(cell.quality.degrees_of_freedom == 31);
  double largest_N = 0.0;
  for (const Reading& reading : cell.readings) {
    const double residual_N = reading.reference - cell.value(reading.reading);
    if (std::abs(residual_N) > std::abs(largest_N)) largest_N = residual_N;
  }
  CHECK_THAT(cell.quality.largest_residual, WithinAbs(largest_N, 1e-9));
  CHECK(cell.range_low == 0.0);
  CHECK(cell.range_high == 500.0);
  CHECK(cell.id.size() == 64);
}

TEST_CASE("calibrate: the stated uncertainty of the gain covers the truth as often as it says",
          "[calibration][property]") {
  int covered = 0;
  constexpr int kTrials = 400;
  for (unsigned seed = 1; seed <= kTrials; ++seed) {
    const Calibration cell = make_calibration(force_readings(seed)).value();
    const double error = cell.coefficients[1] - kCellSlope_N_count;
    if (std::abs(error) < 2.04 * cell.coefficient_standard_uncertainty(1)) ++covered;
  }
  // t(0.95, 31) = 2.04. Bounds: 95 % of 400 with 3.5 binomial standard deviations of 4.4; what a
  // significant lack of fit adds by chance only widens.
  CHECK(covered >= 364);
  CHECK(covered <= 396);
}

TEST_CASE("calibrate: dead weights become newtons through local gravity and the air",
          "[calibration]") {
  ReadingSet set = empty_set(Kind::force);
  for (int i = 0; i <= 5; ++i) {
    Reading reading;
    reading.load_kg = 10.0 * i;
    reading.reading = 8000.0 * i + (i % 2);
    set.readings.push_back(reading);
  }
  const Calibration standard = make_calibration(set).value();
  CHECK_THAT(standard.range_high, WithinRel(50.0 * 9.80665, 1e-14));  // the product, rounded
  CHECK_THAT(standard.remarks.at(0), Contains("gravity was not given"));
  CHECK_THAT(standard.reference_relative, WithinRel(std::hypot(0.0005, 0.0015), 1e-12));

  set.conditions.gravity_m_s2 = 9.79;
  set.conditions.air_density_kg_m3 = 1.2;
  const Calibration local = make_calibration(set).value();
  // 1 - 1.2 / 8000 = 0.99985.
  CHECK_THAT(local.range_high, WithinRel(50.0 * 9.79 * 0.99985, 1e-14));
  REQUIRE(local.remarks.size() == 1);  // and none about gravity
  CHECK_THAT(local.remarks[0], Contains("lack of fit cannot be tested"));
  CHECK(local.reference_relative == 0.0005);
  CHECK(local.id != standard.id);
}

TEST_CASE("calibrate: the air lifts a conventional kilogram by 150 parts in a million",
          "[calibration][oracle]") {
  // Source: [OIML-D28] conventional mass: weights of 8000 kg/m3 in air of 1.2 kg/m3; the factor
  // 1 - 1.2 / 8000 = 0.99985, computed.
  const double vacuum_N = calibration::dead_weight_N(1.0, {9.8, std::nullopt});
  const double air_N = calibration::dead_weight_N(1.0, {9.8, 1.2});
  CHECK(vacuum_N == 9.8);
  CHECK_THAT(air_N / vacuum_N, WithinRel(0.99985, 1e-15));  // exact but for rounding
}

TEST_CASE("calibrate: a standard whose uncertainty is not stated is assumed, and said so",
          "[calibration]") {
  ReadingSet set = force_readings(1);
  set.particulars.standards[0].relative_standard_uncertainty.reset();
  const Calibration cell = make_calibration(set).value();
  CHECK(cell.reference_relative == calibration::kUnstatedStandardRelative);
  CHECK_THAT(cell.remarks.at(0), Contains("0.1 % is assumed"));
}

TEST_CASE("calibrate: directions are told from the order, and hysteresis from both",
          "[calibration]") {
  ReadingSet set = empty_set(Kind::force);
  for (int i = 0; i <= 8; ++i) {
    Reading reading;
    reading.reference = 100.0 * (i <= 4 ? i : 8 - i);
    const double lag = i > 4 && i < 8 ? 40.0 : 0.0;  // coming down, the cell reads 40 counts more
    reading.reading = reading.reference / kCellSlope_N_count + lag;
    set.readings.push_back(reading);
  }
  const Calibration cell = make_calibration(set).value();
  CHECK(cell.readings[4].direction == Direction::ascending);
  CHECK(cell.readings[5].direction == Direction::descending);
  REQUIRE(cell.quality.hysteresis.has_value());
  // 40 counts of 0.0125 N; the fitted slope differs from it by less than a thousandth.
  CHECK_THAT(*cell.quality.hysteresis, WithinRel(0.5, 1e-3));
}

TEST_CASE("calibrate: a dial that stands elsewhere on the way back shows it as hysteresis",
          "[calibration]") {
  calibration::ReadingSet set = empty_set(Kind::travel);
  for (const int step : {0, 1, 2, 3, 4, 3, 2, 1, 0}) {
    calibration::Reading reading;
    reading.reading = 8000.0 * step;
    const bool is_back = set.readings.size() > 4;
    reading.reference = 0.020 * step + (is_back ? 3e-5 : 0.0);
    reading.direction = is_back ? Direction::descending : Direction::ascending;
    set.readings.push_back(reading);
  }
  const Calibration screw = make_calibration(set, 1).value();
  CHECK_THAT(screw.quality.hysteresis.value(), WithinRel(3e-5, 1e-6));
}

TEST_CASE("calibrate: a bent cell shows lack of fit, which widens the covariance; a curve heals it",
          "[calibration]") {
  ReadingSet set = force_readings(3);
  for (Reading& reading : set.readings) {
    const double part = reading.reference / 500.0;
    reading.reading += 400.0 * part * (1.0 - part);  // 100 counts at half range
  }
  const Calibration line = make_calibration(set, 1).value();
  REQUIRE(line.quality.lack_of_fit.has_value());
  CHECK(line.quality.lack_of_fit->probability < 1e-6);
  CHECK(line.covariance_scale > 3.0);
  const Calibration curve = make_calibration(set, 2).value();
  CHECK(curve.quality.lack_of_fit->probability > 0.05);
  CHECK(curve.covariance_scale == 1.0);
  CHECK(curve.quality.residual_standard_deviation < 0.5 * line.quality.residual_standard_deviation);
}

TEST_CASE("calibrate: a cell wired the other way round is as good", "[calibration]") {
  ReadingSet set = force_readings(5);
  for (Reading& reading : set.readings) reading.reading = -reading.reading;
  const Calibration cell = make_calibration(set).value();
  CHECK(cell.coefficients[1] < 0.0);
  CHECK_THAT(cell.reading_at(250.0).value(), WithinRel(-32000.0, 1e-3));  // the noise
}

TEST_CASE("calibrate: beyond the range the doubt grows by a stated part of the excess",
          "[calibration]") {
  const Calibration cell = make_calibration(force_readings(7)).value();
  const calibration::Estimate inside = cell.estimate(cell.reading_at(400.0).value());
  CHECK_FALSE(inside.is_beyond_range());
  const calibration::Estimate outside = cell.estimate(cell.reading_at(2500.0).value());
  CHECK(outside.is_beyond_range());
  CHECK_THAT(outside.beyond_range, WithinAbs(2000.0, 1e-6));  // the root finder's last step
  CHECK(outside.standard_uncertainty > 0.002 * 2000.0);
  // 0.2 % of 2000 N, 0.05 % of 2500 N, and the curve's and the scatter's half newton.
  CHECK_THAT(outside.standard_uncertainty, WithinRel(std::hypot(4.0, 1.25), 0.03));
  CHECK(cell.beyond_range_uncertainty(-10.0) == 0.02);
}

TEST_CASE("calibrate: taking today's zero off removes the drift", "[calibration]") {
  const Calibration cell = make_calibration(force_readings(7)).value();
  const double drift_counts = 900.0;
  const calibration::Estimate steady =
      cell.estimate_from_zero(kCellZero_counts + 16000.0, kCellZero_counts);
  const calibration::Estimate drifted = cell.estimate_from_zero(
      kCellZero_counts + 16000.0 + drift_counts, kCellZero_counts + drift_counts);
  CHECK_THAT(drifted.value, WithinRel(steady.value, 1e-12));  // a line is the same everywhere
  CHECK_THAT(steady.value, WithinRel(200.0, 1e-3));
  // The scatter of the reading, and once more that of the zero.
  const double zero_counts = cell.quality.lack_of_fit->replication_standard_deviation();
  CHECK(steady.standard_uncertainty > std::hypot(cell.quality.residual_standard_deviation,
                                                 0.95 * zero_counts * cell.coefficients[1]));
}

TEST_CASE("calibrate: frame compliance passes through the origin, whatever its degree",
          "[calibration]") {
  const Calibration line = make_calibration(frame_readings(), 1).value();
  CHECK(line.through_origin);
  CHECK_THAT(line.value(1000.0), WithinRel(0.00025, 0.01));  // the wobble of micrometres
  for (const int degree : {1, 2, 3}) {
    const Calibration frame = make_calibration(frame_readings(), degree).value();
    CHECK(frame.degree() == degree);
    CHECK(frame.value(0.0) == 0.0);
  }
}

struct Refusal {
  const char* name;
  void (*spoil)(ReadingSet&);
  int degree;
  Errc code;
  const char* says;
};

TEST_CASE("calibrate: what cannot carry a calibration is refused with the reason",
          "[calibration][fault]") {
  const Refusal refusal = GENERATE(values<Refusal>({
      {"no readings", [](ReadingSet& s) { s.readings.clear(); }, 1, Errc::calibration_unusable,
       "0 different loads"},
      {"fewer points than parameters", [](ReadingSet& s) { s.readings.resize(3); }, 3,
       Errc::calibration_unusable, "3 different loads"},
      {"one weight only",
       [](ReadingSet& s) {
         for (Reading& r : s.readings) r.reference = r.reference > 0.0 ? 100.0 : 0.0;
       },
       1, Errc::calibration_unusable, "2 different loads"},
      {"saturated above", [](ReadingSet& s) { s.readings[5].reading = 8388607.0; }, 1,
       Errc::calibration_unusable, "saturated"},
      {"saturated below", [](ReadingSet& s) { s.readings[5].reading = -8388608.0; }, 1,
       Errc::calibration_unusable, "reading 6"},
      {"out of order",
       [](ReadingSet& s) {
         for (Reading& r : s.readings) r.direction = Direction::ascending;
       },
       1, Errc::calibration_unusable, "reading 7: 400 after 500 is out of order"},
      {"a stuck cell",
       [](ReadingSet& s) {
         for (Reading& r : s.readings) r.reading = 12000.0;
       },
       1, Errc::calibration_unusable, "1 different values"},
      {"not a number", [](ReadingSet& s) { s.readings[2].reading = std::nan(""); }, 1,
       Errc::calibration_unusable, "reading 3"},
      {"a curve that turns back",
       [](ReadingSet& s) {
         for (Reading& r : s.readings) {
           r.reading += 40000.0 * (r.reference / 250.0) * (1.0 - r.reference / 500.0);
         }
       },
       3, Errc::calibration_unusable, "turns back"},
      {"no such degree", [](ReadingSet&) {}, 4, Errc::input_out_of_range, "1 to 3"},
      {"no date", [](ReadingSet& s) { s.particulars.date = "2026-02-30"; }, 1,
       Errc::input_out_of_range, "2026-02-30"},
      {"valid until before its date",
       [](ReadingSet& s) { s.particulars.valid_until = "2025-01-01"; }, 1, Errc::input_out_of_range,
       "2025-01-01"},
      {"gravity of another planet", [](ReadingSet& s) { s.conditions.gravity_m_s2 = 3.7; }, 1,
       Errc::input_out_of_range, "3.7"},
      {"air density in the wrong unit",
       [](ReadingSet& s) { s.conditions.air_density_kg_m3 = 1200.0; }, 1, Errc::input_out_of_range,
       "1200"},
      {"creep against time",
       [](ReadingSet& s) {
         s.creep = calibration::CreepRun{500.0, std::nullopt, {{600.0, 1.0}, {0.0, 2.0}}};
       },
       1, Errc::calibration_unusable, "creep reading 2"},
      {"creep under no load",
       [](ReadingSet& s) {
         s.creep = calibration::CreepRun{0.0, std::nullopt, {{0.0, 1.0}, {600.0, 2.0}}};
       },
       1, Errc::calibration_unusable, "under which load"},
      {"a standard of no use",
       [](ReadingSet& s) { s.particulars.standards[0].relative_standard_uncertainty = 0.5; }, 1,
       Errc::input_out_of_range, "0.5"},
  }));
  CAPTURE(refusal.name);
  ReadingSet set = force_readings(2);
  refusal.spoil(set);
  const protocol::Result<Calibration> result = make_calibration(set, refusal.degree);
  REQUIRE_FALSE(result);
  CHECK(result.error().code == refusal.code);
  CHECK_THAT(result.error().message, Contains(refusal.says));
}

TEST_CASE("polynomial fit: as many readings as coefficients leave no doubt to be told",
          "[calibration][fault]") {
  const std::vector<double> x = {0.0, 1.0, 2.0};
  const protocol::Result<calibration::PolynomialFit> fit = calibration::fit_polynomial(x, x, 2);
  REQUIRE_FALSE(fit);
  CHECK_THAT(fit.error().message, Contains("3 readings cannot determine 3 coefficients"));
}

TEST_CASE("polynomial fit: readings far from zero keep their digits", "[calibration]") {
  std::vector<double> x;
  std::vector<double> y;
  for (int i = 0; i <= 20; ++i) {
    x.push_back(8.0e6 + 10.0 * i);
    y.push_back(0.0125 * i * i + 0.5 * i);
  }
  const calibration::PolynomialFit fit = calibration::fit_polynomial(x, y, 2).value();
  // 1e-11 of the range, because centred readings lose no digit; raw ones lose all but a few here.
  for (const double residual : fit.residuals) CHECK_THAT(residual, WithinAbs(0.0, 1.5e-10));
  CHECK_THAT(fit.coefficients[2], WithinRel(0.000125, 1e-10));
}

TEST_CASE("lack of fit: nothing is said where no load repeats", "[calibration]") {
  CHECK_FALSE(make_calibration(travel_readings()).value().quality.lack_of_fit.has_value());
}

}  // namespace
