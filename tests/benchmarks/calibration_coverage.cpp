// Prints how often the interval that a calibration states holds the true force.
//
// Usage: calibration_coverage [CALIBRATIONS [SEED]]
#include <fmt/core.h>

#include <cstdlib>

#include "tests/benchmarks/calibration_coverage_run.hpp"

int main(int count, char** words) {
  const auto plant = controller::virtual_rig::load_plant(
      SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/larch_160.toml");
  if (!plant) {
    fmt::print(stderr, "{}\n", plant.error().message);
    return EXIT_FAILURE;
  }
  benchmarks::CoverageSetting setting;
  setting.cell = plant->bench.load_cell;
  setting.room_K = plant->bench.room_K;
  if (count > 1) setting.calibrations = std::atoi(words[1]);
  if (count > 2) setting.seed = static_cast<uint64_t>(std::atoll(words[2]));
  if (setting.calibrations < 1) {
    fmt::print(stderr, "usage: calibration_coverage [CALIBRATIONS [SEED]]\n");
    return EXIT_FAILURE;
  }
  const benchmarks::Coverage coverage = benchmarks::run_coverage(setting);
  fmt::print("{} of {} true forces within the stated 95 % interval: {:.2f} %\n", coverage.covered,
             coverage.calibrations, coverage.percent());
  fmt::print("mean interval +/- {:.3f} N, mean error {:+.3f} N, largest {:.3f} N\n",
             coverage.mean_expanded_N, coverage.mean_error_N, coverage.largest_error_N);
  constexpr double kLow_percent = 93.0;
  constexpr double kHigh_percent = 98.0;
  const bool holds = coverage.percent() >= kLow_percent && coverage.percent() <= kHigh_percent;
  fmt::print("wanted: {:.0f} to {:.0f} %: {}\n", kLow_percent, kHigh_percent,
             holds ? "kept" : "NOT KEPT");
  return holds ? EXIT_SUCCESS : EXIT_FAILURE;
}
