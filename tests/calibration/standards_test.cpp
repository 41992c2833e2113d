// Weights by class, air by its formula, and conditions from what is known of a place.
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "calibration/calibrate.hpp"
#include "calibration/gravity.hpp"
#include "calibration/standards/air_density.hpp"
#include "calibration/standards/surroundings.hpp"
#include "calibration/standards/weights.hpp"
#include "tests/calibration/readings_support.hpp"

namespace {

using calibration::air_density_kg_m3;
using calibration::Calibration;
using calibration::Kind;
using calibration::make_calibration;
using calibration::Reading;
using calibration::ReadingSet;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using protocol::Errc;
using namespace calibration_test;

constexpr double kMercury_Pa = 133.322;  // one mmHg

TEST_CASE("weights: the limits of their classes", "[calibration][oracle]") {
  struct Row {
    const char* weight_class;
    double mass_kg;
    double limit_mg;
  };
  // Source: [OIML-R111] maximum permissible errors in mg.
  const Row row = GENERATE(values<Row>({
      {"E2", 0.1, 0.16},
      {"F1", 0.1, 0.5},
      {"F2", 0.1, 1.6},
      {"M1", 0.1, 5.0},
      {"M2", 0.1, 16.0},
      {"M3", 0.1, 50.0},
      {"F1", 1.0, 5.0},
      {"M1", 1.0, 50.0},
      {"M3", 1.0, 500.0},
      {"M1", 10.0, 500.0},
      {"F1", 20.0, 100.0},
      {"M1", 20.0, 1000.0},
      {"M2", 5.0, 800.0},
  }));
  CAPTURE(row.weight_class, row.mass_kg);
  const double limit = calibration::weight_relative_error_limit(row.weight_class).value();
  CHECK_THAT(limit * row.mass_kg * 1e6, WithinRel(row.limit_mg, 1e-12));  // but for rounding
}

TEST_CASE("weights: a class that is not known is refused with the list", "[calibration][fault]") {
  const auto refused = calibration::weight_relative_error_limit("M4");
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == Errc::input_out_of_range);
  CHECK_THAT(refused.error().message, Contains("'M4'") && Contains("E2, F1, F2, M1, M2, M3"));
}

TEST_CASE("weights: the class stands for an uncertainty that is not stated", "[calibration]") {
  ReadingSet set = force_readings(1);
  set.particulars.standards = {{"set 3", "W-2231", std::nullopt, "M1", ""}};
  const Calibration cell = make_calibration(set, 1).value();
  CHECK_THAT(cell.reference_relative, WithinRel(50e-6 / std::sqrt(3.0), 1e-12));
  CHECK(cell.remarks.empty());
  set.particulars.standards[0].relative_standard_uncertainty = 1e-5;
  CHECK(make_calibration(set, 1)->reference_relative == 1e-5);
  set.particulars.standards[0] = {"set 3", "W-2231", std::nullopt, "X1", ""};
  const auto refused = make_calibration(set, 1);
  REQUIRE_FALSE(refused);
  CHECK_THAT(refused.error().message, Contains("set 3") && Contains("'X1'"));
}

TEST_CASE("weights: a standard whose certificate had run out is said", "[calibration]") {
  ReadingSet set = force_readings(1);
  set.particulars.standards[0].valid_until = "2026-11-25";
  CHECK(make_calibration(set, 1)->remarks.empty());  // its last day
  set.particulars.standards[0].valid_until = "2026-11-24";
  CHECK_THAT(make_calibration(set, 1)->remarks.at(0), Contains("had run out on 2026-11-24"));
  set.particulars.standards[0].valid_until = "24.11.2026";
  CHECK_FALSE(make_calibration(set, 1));
}

TEST_CASE("air density: the simplified formula's own values", "[calibration][oracle]") {
  // Source: [OIML-R111] formula E.3-1, computed: 20 degC, 1013.25 hPa, 50 % and dry, kg/m3.
  CHECK_THAT(air_density_kg_m3(293.15, 101325.0, 0.5), WithinAbs(1.199294, 1e-6));
  CHECK_THAT(air_density_kg_m3(293.15, 101325.0, 0.0), WithinAbs(1.204494, 1e-6));
}

TEST_CASE("air density: close to the full formula in any room", "[calibration][oracle]") {
  // Source: [CIPM-2007] and [NIST-SOP2] values as a public test suite prints them, kg/m3.
  CHECK_THAT(air_density_kg_m3(273.15 + 10.0, 730.0 * kMercury_Pa, 0.40),
             WithinRel(1.19569, 2e-4));  // what the formula claims from 900 hPa and 10 degC on
  CHECK_THAT(air_density_kg_m3(273.15 + 22.3, 748.1 * kMercury_Pa, 0.37), WithinRel(1.17194, 2e-4));
  CHECK_THAT(air_density_kg_m3(273.15 + 23.4, 612.3 * kMercury_Pa, 0.23),
             WithinRel(0.95632, 1e-3));  // thinner air than the claim covers
  CHECK_THAT(air_density_kg_m3(273.15 + 40.0, 760.0 * kMercury_Pa, 0.40),
             WithinRel(1.11497, 1e-3));  // warmer
}

ReadingSet weights() {
  ReadingSet set = empty_set(Kind::force);
  for (int i = 0; i <= 5; ++i) {
    Reading reading;
    reading.load_kg = 10.0 * i;
    reading.reading = 8000.0 * i + (i % 2);
    set.readings.push_back(reading);
  }
  return set;
}

TEST_CASE("surroundings: gravity and air come from the place, and it is said", "[calibration]") {
  ReadingSet set = weights();
  set.surroundings.latitude_rad = 50.0 * std::numbers::pi / 180.0;
  set.surroundings.altitude_m = 200.0;
  const Calibration cell = make_calibration(set).value();
  const double gravity_m_s2 =
      calibration::local_gravity_m_s2(50.0 * std::numbers::pi / 180.0, 200.0);
  CHECK(cell.conditions.gravity_m_s2 == gravity_m_s2);
  const double air =
      air_density_kg_m3(293.15, protocol::standard_atmosphere_Pa(200.0), 0.5);  // as assumed
  CHECK(cell.conditions.air_density_kg_m3 == air);
  CHECK_THAT(cell.range_high, WithinRel(50.0 * gravity_m_s2 * (1.0 - air / 8000.0), 1e-14));
  CHECK_THAT(cell.remarks.at(0), Contains("latitude 50 deg and altitude 200 m"));
  CHECK_THAT(cell.remarks.at(1), Contains("20 degC (assumed)") && Contains("from the altitude"));
  CHECK(cell.reference_relative == 0.0005);  // no doubt for a gravity that is not known
}

TEST_CASE("surroundings: what is given is not worked out, and what is not asked is not assumed",
          "[calibration]") {
  ReadingSet set = weights();
  set.surroundings.latitude_rad = 0.8;
  set.conditions.gravity_m_s2 = 9.81;
  CHECK(make_calibration(set)->conditions.gravity_m_s2 == 9.81);
  CHECK_FALSE(make_calibration(set)->conditions.air_density_kg_m3.has_value());
  set.particulars.temperature_K = 303.15;
  const Calibration warm = make_calibration(set).value();
  CHECK(warm.conditions.air_density_kg_m3 == air_density_kg_m3(303.15, 101325.0, 0.5));
  ReadingSet newtons = force_readings(1);
  newtons.surroundings.latitude_rad = 0.8;
  CHECK_FALSE(make_calibration(newtons)->conditions.gravity_m_s2.has_value());
}

TEST_CASE("surroundings: a place that is not on this Earth is refused", "[calibration][fault]") {
  struct Bad {
    std::optional<double> calibration::Surroundings::*place;
    double value;
    const char* says;
  };
  using calibration::Surroundings;
  const Bad bad = GENERATE(values<Bad>({
      {&Surroundings::latitude_rad, 50.0, "latitude"},
      {&Surroundings::altitude_m, 20000.0, "altitude"},
      {&Surroundings::air_temperature_K, 20.0, "temperature"},
      {&Surroundings::air_pressure_Pa, 1013.25, "pressure"},
      {&Surroundings::air_humidity, 50.0, "humidity"},
  }));
  ReadingSet set = weights();
  set.surroundings.*bad.place = bad.value;
  const auto refused = make_calibration(set);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == Errc::input_out_of_range);
  CHECK_THAT(refused.error().message, Contains(bad.says));
}

}  // namespace
