// When a reading stands still, and in which words it is refused.
#include "calibration/guided/stability.hpp"

#include <catch2/catch.hpp>
#include <random>

#include "tests/calibration/guided/session_support.hpp"

using calibration::judge_stability;
using calibration::Stability;
using calibration::StabilityRules;
using calibration::Steadiness;
using calibration::WindowSample;
using calibration_test::GuidedCell;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

StabilityRules known_noise() {
  StabilityRules rules;
  rules.noise = GuidedCell::kNoise_counts;
  return rules;
}

}  // namespace

TEST_CASE("stability: a quiet window is steady, and its mean is the reading", "[guided]") {
  GuidedCell cell(1);
  const Stability out = judge_stability(cell.window(10.0), known_noise());
  CHECK(out.is_stable());
  CHECK(out.reason.empty());
  // Because 80 samples average their noise to 101 counts; four times that.
  CHECK_THAT(out.mean, WithinAbs(GuidedCell::kZero_counts + 82000.0, 403.0));
}

TEST_CASE("stability: quiet windows are hardly ever refused", "[guided]") {
  GuidedCell cell(2);
  int refused = 0;
  for (int i = 0; i < 2000; ++i) {
    refused += judge_stability(cell.window(5.0), known_noise()).is_stable() ? 0 : 1;
  }
  CHECK(refused == 0);
}

TEST_CASE("stability: a drift is told by its rate", "[guided]") {
  GuidedCell cell(3);
  const Stability out = judge_stability(cell.window(10.0, 6000.0), known_noise());
  CHECK(out.verdict == Steadiness::drifting);
  CHECK_THAT(out.reason, Contains("drifting by") && Contains("counts per second"));
  CHECK(out.unsteadiness > 2.0);
}

TEST_CASE("stability: a drift shows even before the usual noise is known", "[guided]") {
  GuidedCell cell(4);
  CHECK(judge_stability(cell.window(0.0, 6000.0), StabilityRules()).verdict ==
        Steadiness::drifting);
  CHECK(judge_stability(cell.window(0.0), StabilityRules()).is_stable());
}

TEST_CASE("stability: a swinging load is told by its scatter", "[guided]") {
  GuidedCell cell(5);
  std::vector<WindowSample> window = cell.window(10.0);
  for (size_t i = 0; i < window.size(); ++i) window[i].reading += i % 2 == 0 ? 3000.0 : -3000.0;
  const Stability out = judge_stability(window, known_noise());
  CHECK(out.verdict == Steadiness::scattered);
  CHECK_THAT(out.reason, Contains("where 900 is usual"));
}

TEST_CASE("stability: one sample far away is a knock", "[guided]") {
  GuidedCell cell(6);
  std::vector<WindowSample> window = cell.window(10.0);
  window[40].reading += 10500.0;
  CHECK(judge_stability(window, known_noise()).verdict == Steadiness::spike);
}

TEST_CASE("stability: the converter's end is saturation, whatever else", "[guided]") {
  GuidedCell cell(7);
  std::vector<WindowSample> window = cell.window(10.0);
  window[3].reading = 8388607.0;
  const Stability out = judge_stability(window, known_noise());
  CHECK(out.verdict == Steadiness::saturated);
  CHECK_THAT(out.reason, Contains("8388607"));
}

TEST_CASE("stability: too few samples are no window", "[guided]") {
  GuidedCell cell(8);
  std::vector<WindowSample> window = cell.window(10.0);
  window.resize(calibration::kWindowSamplesMin - 1);
  CHECK(judge_stability(window, known_noise()).verdict == Steadiness::too_few);
}

TEST_CASE("stability: steps that stand still need no noise", "[guided]") {
  const std::vector<WindowSample> still(80, {0.0, 10000.0});
  CHECK(judge_stability(still, StabilityRules()).is_stable());
  CHECK(judge_stability(std::vector<WindowSample>(80, {0.0, 0.1}), StabilityRules()).mean == 0.1);
  std::vector<WindowSample> moving;
  for (int i = 0; i < 80; ++i) moving.push_back({i / 80.0, 10000.0 + i});
  CHECK(judge_stability(moving, StabilityRules()).verdict == Steadiness::drifting);
}
