// The control chart of checks: its limits, its signals, and what belongs on it.
#include "calibration/control_chart.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <vector>

namespace {

using calibration::ControlChart;
using calibration::ControlPoint;
using calibration::ControlSignal;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

ControlPoint check_of(double difference_N, double load_N = 200.0) {
  ControlPoint point;
  point.time = "2026-11-25T08:00:00Z";
  point.certificate_id = "a1";
  point.cell_id = "cell 1";
  point.load_N = load_N;
  point.measured_N = load_N + difference_N;
  point.expanded_uncertainty_N = 1.0;
  return point;
}

std::vector<ControlPoint> checks_of(const std::vector<double>& differences_N) {
  std::vector<ControlPoint> points;
  for (const double each : differences_N) points.push_back(check_of(each));
  return points;
}

// Moving range 0.1 throughout: limits of 3 * 0.1 / 1.128 = 0.266 about 0.05.
const std::vector<double> kSteady_N = {0.0, 0.1, 0.0, 0.1, 0.0, 0.1, 0.0, 0.1};

std::vector<ControlPoint> steady_then(const std::vector<double>& more_N) {
  std::vector<double> all = kSteady_N;
  all.insert(all.end(), more_N.begin(), more_N.end());
  return checks_of(all);
}

}  // namespace

TEST_CASE("control chart: limits of individuals from the mean moving range",
          "[calibration][oracle]") {
  // Source: [NIST-6.3.2.2] flow rates of ten batches, centre and limits as printed there.
  const std::array<double, 10> flow_rates = {49.6, 47.6, 49.9, 51.3, 47.8,
                                             51.2, 52.6, 52.4, 53.6, 52.1};
  const auto limits = calibration::individuals_limits(flow_rates);
  REQUIRE(limits);
  // Printed with four decimals.
  CHECK_THAT(limits->centre, WithinAbs(50.81, 5e-5));
  CHECK_THAT(limits->upper, WithinAbs(55.8041, 6e-5));
  CHECK_THAT(limits->lower, WithinAbs(45.8159, 6e-5));
}

TEST_CASE("control chart: a single value sets no limits", "[calibration]") {
  CHECK_FALSE(calibration::individuals_limits(std::array{1.0}));
  CHECK_FALSE(calibration::individuals_limits({}));
}

TEST_CASE("control chart: values that agree to the last digit leave the least width",
          "[calibration]") {
  const auto limits = calibration::individuals_limits(std::array{0.2, 0.2, 0.2}, 0.05);
  REQUIRE(limits);
  CHECK_THAT(limits->upper, WithinAbs(0.25, 1e-12));  // rounding of one sum
  CHECK_THAT(limits->lower, WithinAbs(0.15, 1e-12));
}

TEST_CASE("control chart: before eight checks the certificate alone judges", "[calibration]") {
  const ControlChart chart =
      calibration::make_control_chart(checks_of({0.0, 0.1, 0.0, 0.1, 0.9}), 0.0);
  CHECK_FALSE(chart.limits);
  CHECK(chart.newest() == ControlSignal::none);
  CHECK(signal_sentence(chart).empty());
  const ControlChart out = calibration::make_control_chart(checks_of({0.0, 1.1}), 0.0);
  CHECK(out.newest() == ControlSignal::beyond_certificate);
  CHECK_THAT(signal_sentence(out), Contains("+1.10 N"));
}

TEST_CASE("control chart: the newest check is judged by those before it", "[calibration]") {
  const ControlChart inside = calibration::make_control_chart(steady_then({0.30}), 0.0);
  REQUIRE(inside.limits);
  CHECK(inside.limits->points == 8);
  CHECK_THAT(inside.limits->centre, WithinAbs(0.05, 1e-9));
  CHECK(inside.newest() == ControlSignal::none);
  // Counted among its own judges, 0.35 would widen the limits to 0.42 and pass.
  const ControlChart outside = calibration::make_control_chart(steady_then({0.35}), 0.0);
  CHECK(outside.newest() == ControlSignal::beyond_limits);
  CHECK_THAT(signal_sentence(outside), Contains("outside the control limits"));
}

TEST_CASE("control chart: eight on one side of the centre are a drift", "[calibration]") {
  const ControlChart seven =
      calibration::make_control_chart(steady_then({-0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1}), 0.0);
  CHECK(seven.newest() == ControlSignal::none);
  const ControlChart eight = calibration::make_control_chart(
      steady_then({-0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1}), 0.0);
  CHECK(eight.newest() == ControlSignal::one_side);
  CHECK_THAT(signal_sentence(eight), Contains("plan a calibration"));
}

TEST_CASE("control chart: a slow drift does not take the centre with it", "[calibration]") {
  std::vector<double> differences_N = kSteady_N;
  for (int i = 1; i <= 40; ++i) differences_N.push_back(0.05 + 0.01 * i);
  const ControlChart chart = calibration::make_control_chart(checks_of(differences_N), 0.0);
  REQUIRE(chart.limits);
  CHECK(chart.limits->points == calibration::kControlBaseLineMax);
  CHECK(chart.newest() == ControlSignal::beyond_limits);
}

TEST_CASE("control chart: a check that the certificate refused sets no limits", "[calibration]") {
  const ControlChart chart = calibration::make_control_chart(steady_then({5.0, 0.1}), 0.0);
  REQUIRE(chart.limits);
  CHECK(chart.limits->points == 8);
  CHECK_THAT(chart.limits->centre, WithinAbs(0.05, 1e-9));
  CHECK(chart.signals[8] == ControlSignal::beyond_certificate);
  CHECK(chart.newest() == ControlSignal::none);
}

TEST_CASE("control chart: another weight, certificate or cell has a chart of its own",
          "[calibration]") {
  std::vector<ControlPoint> kept = checks_of(kSteady_N);
  kept[1].cell_id = "cell 2";
  kept[2].certificate_id = "b2";
  kept[3].load_N = 100.0;
  kept[4].load_N = 200.5;  // the same weight at another place
  const ControlChart chart = calibration::make_control_chart(kept, 0.0);
  CHECK(chart.points.size() == 5);
  CHECK(calibration::make_control_chart({}, 0.0).points.empty());
}
