// Local gravity against the values of its own definition.
#include "calibration/gravity.hpp"

#include <catch2/catch.hpp>
#include <numbers>

namespace {

using Catch::Matchers::WithinAbs;

double at_degrees(double latitude_deg, double altitude_m) {
  return calibration::local_gravity_m_s2(latitude_deg * std::numbers::pi / 180.0, altitude_m);
}

TEST_CASE("gravity: equator, poles and between", "[calibration][oracle]") {
  // Source: [WGS84] normal gravity at the equator and at the poles, ten decimals.
  CHECK_THAT(at_degrees(0.0, 0.0), WithinAbs(9.7803253359, 1e-10));  // the last decimal printed
  CHECK_THAT(at_degrees(90.0, 0.0), WithinAbs(9.8321849378, 1e-10));
  CHECK_THAT(at_degrees(-90.0, 0.0), WithinAbs(9.8321849378, 1e-10));
  // Source: [WGS84] formula, computed to nine decimals.
  CHECK_THAT(at_degrees(30.0, 0.0), WithinAbs(9.793247269, 1e-9));
  CHECK_THAT(at_degrees(45.0, 0.0), WithinAbs(9.806197769, 1e-9));
  CHECK_THAT(at_degrees(60.0, 0.0), WithinAbs(9.819176953, 1e-9));
}

TEST_CASE("gravity: it falls with altitude", "[calibration][oracle]") {
  // Source: [WGS84] second-order free-air reduction, computed to nine decimals.
  CHECK_THAT(at_degrees(45.0, 1000.0), WithinAbs(9.803112944, 1e-9));
  CHECK_THAT(at_degrees(45.0, 2000.0), WithinAbs(9.800029564, 1e-9));
  CHECK_THAT(at_degrees(0.0, 1000.0), WithinAbs(9.777238367, 1e-9));
  CHECK_THAT(at_degrees(90.0, 1000.0), WithinAbs(9.829102274, 1e-9));
}

}  // namespace
