// Units at the boundary: exact factors, strict reading.
#include "protocol/units.hpp"

#include <catch2/catch.hpp>

using namespace protocol;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;

TEST_CASE("units: factors are the exact ones", "[protocol][oracle]") {
  // Source: [UCUM] definitions of [lbf_av], [psi], bar, kgf, [in_i], [lb_av]; exact by definition.
  struct Row {
    const char* text;
    Dimension dimension;
    double si;
  };
  const auto row = GENERATE(values<Row>({
      {"1 lbf", Dimension::force, 4.4482216152605},
      {"1 kgf", Dimension::force, 9.80665},
      {"1 psi", Dimension::pressure, 6894.757293168362},
      {"1 bar", Dimension::pressure, 1e5},
      {"14.50377377302092 psi", Dimension::pressure, 1e5},
      {"1 in", Dimension::length, 0.0254},
      {"1 lb", Dimension::mass, 0.45359237},
      {"1 lbf/in", Dimension::rate, 175.12683524647638},
      {"1 N/mm", Dimension::rate, 1000.0},
      {"20 degC", Dimension::temperature, 293.15},
      {"180 deg", Dimension::angle, 3.141592653589793},
      {"20 %", Dimension::fraction, 0.2},
  }));
  CAPTURE(row.text);
  const Result<double> value = parse_quantity(row.text, row.dimension);
  REQUIRE(value);
  // Because the published digits carry double precision, four roundings are allowed.
  CHECK_THAT(*value, WithinRel(row.si, 1e-15));
}

TEST_CASE("units: what is not a number with a known unit is refused with the list", "[protocol]") {
  struct Row {
    const char* text;
    Errc code;
    const char* says;
  };
  const auto row = GENERATE(values<Row>({
      {"81", Errc::unit_unknown, "has no unit"},
      {"81 psig", Errc::unit_unknown, "Pa, kPa, MPa, bar, psi"},
      {"81 Psi", Errc::unit_unknown, "not a known unit"},
      {"81 mm", Errc::unit_wrong_dimension, "is a length, where a pressure is wanted"},
      {"psi", Errc::input_malformed, "is not a number"},
      {"8,1 psi", Errc::unit_unknown, "not a known unit"},
      {"nan psi", Errc::input_malformed, "is not a number"},
      {"inf psi", Errc::input_malformed, "is not a number"},
      {"", Errc::input_malformed, "is not a number"},
      {"1 lb", Errc::unit_wrong_dimension, "is a mass"},
  }));
  CAPTURE(row.text);
  const Result<double> value = parse_quantity(row.text, Dimension::pressure);
  REQUIRE_FALSE(value);
  CHECK(value.error().code == row.code);
  CHECK_THAT(value.error().message, Contains(row.says));
}

TEST_CASE("units: a tolerance is read, and must be positive", "[protocol]") {
  const Result<Toleranced> plain = parse_toleranced("230 cm3", Dimension::volume);
  REQUIRE(plain);
  CHECK_FALSE(plain->tolerance.has_value());
  for (const char* text : {"230 cm3 +/- 3 cm3", "230 cm3 \u00b1 3 mL"}) {
    const Result<Toleranced> value = parse_toleranced(text, Dimension::volume);
    REQUIRE(value);
    CHECK_THAT(value->value, WithinRel(230e-6, 1e-15));
    CHECK_THAT(value->tolerance.value(), WithinRel(3e-6, 1e-15));
  }
  CHECK_FALSE(parse_toleranced("230 cm3 +/- 0 cm3", Dimension::volume));
  CHECK_FALSE(parse_toleranced("230 cm3 +/- 3", Dimension::volume));
}

TEST_CASE("units: numbers survive writing and reading", "[protocol]") {
  for (double value : {0.1, 1.0 / 3.0, 6.02214076e23, -1e-300, 123456789.0}) {
    const Result<double> back = parse_number(number_text(value));
    REQUIRE(back);
    CHECK(*back == value);
  }
  CHECK_FALSE(parse_number("1,5"));
  CHECK_FALSE(parse_number("1.5 "));
}

TEST_CASE("units: the standard atmosphere falls with altitude as published", "[protocol][oracle]") {
  // Source: [ISO2533] Table 5, pressure by geopotential altitude, as printed to 0.01 or 0.001 hPa.
  struct Row {
    double altitude_m;
    double pressure_Pa;
  };
  const auto row = GENERATE(values<Row>({{0, 101325},
                                         {500, 95460.8},
                                         {1000, 89874.6},
                                         {1500, 84556.0},
                                         {2000, 79495.2},
                                         {2500, 74682.5},
                                         {3000, 70108.5},
                                         {3500, 65764.1},
                                         {4000, 61640.2}}));
  // Because the table prints six digits, half a unit of the last.
  CHECK(std::abs(standard_atmosphere_Pa(row.altitude_m) - row.pressure_Pa) <= 0.05 + 1e-9);
}
