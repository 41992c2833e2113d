#include <catch2/catch.hpp>
#include <limits>

#include "fitting/report/numbers.hpp"

using namespace fitting;

TEST_CASE("report numbers: a value is rounded to its uncertainty", "[fit]") {
  const auto [value, uncertainty, unit, text] =
      GENERATE(table<double, double, std::string, std::string>({
          {205.347, 1.234, "cm3", "205.3 ± 1.2 cm³"},
          {205.347, 0.0996, "cm3", "205.35 ± 0.10 cm³"},
          {12.0, 23.4, "N", "12 ± 23 N"},
          {-3.456, 0.05, "mm", "\u22123.456 ± 0.050 mm"},
          {1234.5, 120.0, "N", "1234 ± 120 N"},
          {1.302, 0.021, "1", "1.302 ± 0.021"},
          {31.0, 0.0, "mm", "31.0 mm"},
          {0.0, 0.0, "N", "0 N"},
      }));
  CHECK(with_uncertainty(value, uncertainty, unit) == text);
}

TEST_CASE("report numbers: minus signs are true, zero has none, and no number is a dash", "[fit]") {
  CHECK(rounded(-2.54, 1) == "\u22122.5");
  CHECK(rounded(-0.04, 1) == "0.0");
  CHECK(rounded(std::numeric_limits<double>::quiet_NaN(), 1) == "–");
  CHECK(rounded(std::numeric_limits<double>::infinity(), 1) == "–");
}

TEST_CASE("report numbers: settings read as the trade says them", "[fit]") {
  CHECK(shown_gauge_pressure(558475.0) == "81.0 psi (5.58 bar)");
  CHECK(shown_spacers(0) == "no spacer");
  CHECK(shown_spacers(1) == "1 spacer");
  CHECK(shown_spacers(3) == "3 spacers");
}
