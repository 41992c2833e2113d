// Conversions that follow exactly from the definitions of the units, across dimensions: what a
// reader with a pocket calculator and a table of units would check first.
#include <catch2/catch.hpp>

#include "protocol/units.hpp"

namespace {

using Catch::Matchers::WithinRel;
using protocol::from_unit;
using protocol::in_unit;

constexpr double kRounding = 4e-16;  // because the values are exact, and two roundings are allowed

TEST_CASE("published units: pound-force and psi are the exact fractions", "[protocol][oracle]") {
  // Source: [UCUM] pound-force and psi: exact by definition, here as fractions of whole numbers.
  CHECK_THAT(from_unit(1.0, "lbf"), WithinRel(8896443230521.0 / 2000000000000.0, kRounding));
  CHECK_THAT(from_unit(1.0, "psi"), WithinRel(8896443230521.0 / 1290320000.0, kRounding));
}

TEST_CASE("published units: a product of two units is the unit of the product",
          "[protocol][oracle]") {
  // Source: [UCUM] psi is lbf over in2, kgf is kg times g, and lbf is lb times g.
  const double inch_m = from_unit(1.0, "in");
  CHECK_THAT(from_unit(1.0, "psi") * inch_m * inch_m, WithinRel(from_unit(1.0, "lbf"), kRounding));
  CHECK_THAT(from_unit(1.0, "lbf/in") * inch_m, WithinRel(from_unit(1.0, "lbf"), kRounding));
  CHECK_THAT(from_unit(1.0, "lb") * protocol::kStandardGravity_m_s2,
             WithinRel(from_unit(1.0, "lbf"), kRounding));
  CHECK(from_unit(1.0, "kgf") == from_unit(1.0, "kg") * protocol::kStandardGravity_m_s2);
  // Source: [UCUM] definitions; inch times pound-force in joules, computed exactly.
  CHECK_THAT(from_unit(1.0, "lbf") * inch_m, WithinRel(0.1129848290276167, kRounding));
}

TEST_CASE("published units: one pressure in every unit", "[protocol][oracle]") {
  // Source: [UCUM] atm = 101325 Pa, bar = 100000 Pa, psi; quotients computed exactly.
  const double atmosphere_Pa = protocol::kStandardAtmosphere_Pa;
  CHECK(atmosphere_Pa == 101325.0);
  CHECK_THAT(in_unit(atmosphere_Pa, "bar"), WithinRel(1.01325, kRounding));
  CHECK_THAT(in_unit(atmosphere_Pa, "kPa"), WithinRel(101.325, kRounding));
  CHECK_THAT(in_unit(atmosphere_Pa, "MPa"), WithinRel(0.101325, kRounding));
  CHECK_THAT(in_unit(atmosphere_Pa, "psi"), WithinRel(14.69594877551345, kRounding));
  CHECK_THAT(in_unit(1e5, "psi"), WithinRel(14.50377377302092, kRounding));
}

TEST_CASE("published units: metric prefixes and the litre", "[protocol][oracle]") {
  // Source: [UCUM] prefixes c, m, k, M; L = dm3.
  struct Row {
    double number;
    const char* unit;
    double si;
  };
  const auto row = GENERATE(values<Row>({{12.5, "mm", 0.0125},
                                         {12.5, "cm", 0.125},
                                         {2.5, "kN", 2500.0},
                                         {230.0, "cm3", 230e-6},
                                         {230.0, "mL", 230e-6},
                                         {0.23, "L", 230e-6},
                                         {230000.0, "mm3", 230e-6},
                                         {4.0, "mm/s", 0.004},
                                         {10.0, "in/s", 0.254},
                                         {250.0, "g", 0.25},
                                         {1.5, "min", 90.0},
                                         {0.5, "h", 1800.0}}));
  CAPTURE(row.number, row.unit);
  CHECK_THAT(from_unit(row.number, row.unit), WithinRel(row.si, kRounding));
  CHECK_THAT(in_unit(row.si, row.unit), WithinRel(row.number, kRounding));
}

TEST_CASE("published units: the two ends of a thermometer", "[protocol][oracle]") {
  // Source: [UCUM] Cel = K less 273.15.
  CHECK(from_unit(0.0, "degC") == 273.15);
  CHECK_THAT(from_unit(100.0, "degC"), WithinRel(373.15, kRounding));
  CHECK_THAT(in_unit(0.0, "degC"), WithinRel(-273.15, kRounding));
}

}  // namespace
