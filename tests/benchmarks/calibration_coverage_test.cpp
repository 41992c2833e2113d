// A sample of what the program calibration_coverage counts, and that the count can tell.
#include <catch2/catch.hpp>

#include "tests/benchmarks/calibration_coverage_run.hpp"

namespace {

// Of 300 with a chance of 95 % each: 285, standard deviation 3.8. Beyond these bounds lies one
// sample in a thousand; the interval may cover 93 to 98 %, which moves the mean to 279 and 294.
constexpr int kCalibrations = 300;
constexpr int kFewest = 266;
constexpr int kMost = 299;

benchmarks::CoverageSetting sample() {
  const auto plant = controller::virtual_rig::load_plant(
      SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/larch_160.toml");
  REQUIRE(plant);
  benchmarks::CoverageSetting setting;
  setting.cell = plant->bench.load_cell;
  setting.room_K = plant->bench.room_K;
  setting.calibrations = kCalibrations;
  setting.seed = 20261125;
  return setting;
}

TEST_CASE("calibration: the stated interval holds the true force about as often as it says",
          "[calibration]") {
  const benchmarks::Coverage coverage = benchmarks::run_coverage(sample());
  CAPTURE(coverage.percent());
  CHECK(coverage.covered >= kFewest);
  CHECK(coverage.covered <= kMost);
}

TEST_CASE("calibration: half the stated interval would be found out", "[calibration]") {
  benchmarks::CoverageSetting halved = sample();
  halved.interval_scale = 0.5;
  CHECK(benchmarks::run_coverage(halved).covered < kFewest);
  benchmarks::CoverageSetting doubled = sample();
  doubled.interval_scale = 2.0;
  CHECK(benchmarks::run_coverage(doubled).covered > kMost);
}

}  // namespace
