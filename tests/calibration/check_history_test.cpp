// The history of checks as text: what was kept comes back, and a torn line costs only itself.
#include "calibration/check_history.hpp"

#include <catch2/catch.hpp>
#include <string>

namespace {

using calibration::CheckHistory;
using calibration::ControlPoint;
using Catch::Matchers::Contains;

const ControlPoint kPoint{
    "2026-11-25T08:00:00Z", "a1b2", "cell \"7\", blue", 196.133, 196.2125, 0.41375, "R. Fell"};

std::string two_lines() {
  return calibration::check_history_header() + check_history_line(kPoint) +
         check_history_line(kPoint);
}

}  // namespace

TEST_CASE("check history: a check comes back as it was kept", "[calibration]") {
  const auto read = calibration::parse_check_history(two_lines(), "checks.csv");
  REQUIRE(read);
  CHECK(read->warnings.empty());
  REQUIRE(read->points.size() == 2);
  const ControlPoint& point = read->points[1];
  CHECK(point.time == kPoint.time);
  CHECK(point.certificate_id == kPoint.certificate_id);
  CHECK(point.cell_id == kPoint.cell_id);
  CHECK(point.load_N == kPoint.load_N);
  CHECK(point.measured_N == kPoint.measured_N);
  CHECK(point.expanded_uncertainty_N == kPoint.expanded_uncertainty_N);
  CHECK(point.operator_name == kPoint.operator_name);
}

TEST_CASE("check history: wherever the last line is torn, the others stay",
          "[calibration][fault]") {
  const std::string whole = two_lines();
  const size_t second = whole.size() - check_history_line(kPoint).size();
  for (size_t length = second + 1; length < whole.size(); ++length) {
    CAPTURE(length);
    const auto read = calibration::parse_check_history(whole.substr(0, length), "checks.csv");
    REQUIRE(read);
    CHECK(read->points.size() == 1);
    REQUIRE(read->warnings.size() == 1);
    CHECK_THAT(read->warnings[0], Contains("checks.csv:3"));
  }
}

TEST_CASE("check history: a torn line in the middle costs only itself", "[calibration][fault]") {
  const std::string line = check_history_line(kPoint);
  const std::string text =
      calibration::check_history_header() + line + line.substr(0, 30) + "\n" + line;
  const auto read = calibration::parse_check_history(text, "checks.csv");
  REQUIRE(read);
  CHECK(read->points.size() == 2);
  CHECK(read->warnings.size() == 1);
}

TEST_CASE("check history: a line break in a name does not break the line", "[calibration]") {
  ControlPoint point = kPoint;
  point.operator_name = "R.\nFell";
  const auto read = calibration::parse_check_history(
      calibration::check_history_header() + check_history_line(point), "checks.csv");
  REQUIRE(read);
  REQUIRE(read->points.size() == 1);
  CHECK(read->points[0].operator_name == "R. Fell");
}

TEST_CASE("check history: another file is refused, an empty one is a beginning",
          "[calibration][fault]") {
  const auto other = calibration::parse_check_history("force_N,counts\n0,1\n", "weights.csv");
  REQUIRE_FALSE(other);
  CHECK(other.error().code == protocol::Errc::input_malformed);
  CHECK_THAT(other.error().message, Contains("weights.csv"));
  const auto empty = calibration::parse_check_history("", "checks.csv");
  REQUIRE(empty);
  CHECK(empty->points.empty());
}
