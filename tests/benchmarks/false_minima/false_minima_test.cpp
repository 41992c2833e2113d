// A sample of what the program false_minima counts.
#include <catch2/catch.hpp>

#include "tests/benchmarks/false_minima/false_minima_run.hpp"

namespace {

// Fewer where each costs thirty times as much; set by the build.
constexpr int kStarts = SPRINGWRIGHT_FALSE_MINIMA_STARTS;
constexpr int kStartsWithHeat = SPRINGWRIGHT_FALSE_MINIMA_STARTS_WITH_HEAT;
constexpr double kWanted_percent = 95.0;

TEST_CASE("fit: from wherever it starts, one sweep without a clock gives no false minimum",
          "[fit]") {
  const false_minima::Count count = false_minima::count_exponent(kStarts);
  CAPTURE(count.reached, count.wide, count.refused);
  CHECK(count.wrong == 0);
  CHECK(count.reached_percent() >= kWanted_percent);
}

TEST_CASE("fit: from wherever it starts, one sweep with heat gives no false minimum", "[fit]") {
  const false_minima::Count count = false_minima::count_heat(kStartsWithHeat);
  CAPTURE(count.reached, count.wide, count.refused);
  CHECK(count.wrong == 0);
  CHECK(count.reached_percent() >= kWanted_percent);
}

}  // namespace
