#include "tests/benchmarks/calibration_coverage_run.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/calibrate.hpp"
#include "calibration/monte_carlo.hpp"
#include "calibration/performance/budget.hpp"
#include "controller/virtual_rig/load_cell.hpp"

namespace benchmarks {
namespace {

using calibration::Draws;

constexpr double kTop_N = 2500.0;
constexpr int kSteps = 10;
constexpr int kSeries = 3;
constexpr double kReferenceRelative = 0.0003;  // k = 1, a good transducer of 0.06 %
constexpr double kRoomWander_K = 0.3;          // within a calibration, to each side
constexpr double kRoomLater_K = 1.0;
constexpr double kHold_s = 15.0;
constexpr int kAveraged = 80;  // samples of one reading: a second

// One cell on its bench, with its past.
class Bench {
 public:
  Bench(const CoverageSetting& setting, uint64_t seed)
      : cell_(setting.cell, seed), period_s_(1.0 / setting.cell.samples_per_s) {}

  void set_room(double room_K) { room_K_ = room_K; }

  // Goes to the force without turning, and stays.
  void load(double force_N, double hold_s) {
    constexpr int kWay = 20;
    const double from_N = force_N_;
    for (int i = 1; i <= kWay; ++i) {
      force_N_ = from_N + (force_N - from_N) * i / kWay;
      cell_.sample(force_N_, room_K_, 0.25);
    }
    cell_.sample(force_N_, room_K_, hold_s);
  }

  double read() {
    double sum = 0.0;
    for (int i = 0; i < kAveraged; ++i) sum += cell_.sample(force_N_, room_K_, period_s_);
    return sum / kAveraged;
  }

 private:
  controller::virtual_rig::LoadCell cell_;
  double period_s_;
  double room_K_ = 293.15;
  double force_N_ = 0.0;
};

calibration::ReadingSet take_readings(Bench& bench, Draws& draws, double room_K, double gain) {
  calibration::ReadingSet set;
  set.kind = calibration::Kind::force;
  set.particulars.rig_id = "bench";
  set.particulars.cell_id = "cell";
  set.particulars.operator_name = "trial";
  set.particulars.date = "2026-11-25";
  set.particulars.standards = {{"reference transducer", "T", kReferenceRelative}};
  for (int series = 1; series <= kSeries; ++series) {
    for (int i = 0; i <= 2 * kSteps; ++i) {
      const double shown_N = kTop_N * (i <= kSteps ? i : 2 * kSteps - i) / kSteps;
      bench.set_room(room_K + draws.rectangular(-kRoomWander_K, kRoomWander_K));
      bench.load(shown_N * gain, kHold_s);
      calibration::Reading reading;
      reading.reference = shown_N;
      reading.reading = bench.read();
      reading.series = series;
      set.readings.push_back(reading);
    }
  }
  return set;
}

struct Asked {
  double error_N = 0.0;
  double expanded_N = 0.0;
};

Asked ask(const calibration::Calibration& cell, Bench& bench, Draws& draws, double room_K) {
  bench.set_room(room_K + draws.rectangular(-kRoomLater_K, kRoomLater_K));
  bench.load(0.0, 60.0);
  const double zero = bench.read();
  const double force_N = draws.rectangular(0.0, kTop_N);
  if (draws.uniform() < 0.5) bench.load(kTop_N, draws.rectangular(1.0, 30.0));
  bench.load(force_N, draws.rectangular(1.0, 30.0));
  const calibration::Budget budget = calibration::budget_of_reading(cell, bench.read(), zero);
  return {budget.value - force_N, budget.expanded_uncertainty};
}

}  // namespace

Coverage run_coverage(const CoverageSetting& setting) {
  Coverage coverage;
  Draws draws(setting.seed);
  for (int i = 0; i < setting.calibrations; ++i) {
    Bench bench(setting, setting.seed * 1000003 + static_cast<uint64_t>(i));
    const double gain = 1.0 + draws.normal(0.0, kReferenceRelative);
    const auto cell =
        calibration::make_calibration(take_readings(bench, draws, setting.room_K, gain));
    ++coverage.calibrations;
    if (!cell) continue;  // no interval is one that does not cover
    const Asked asked = ask(*cell, bench, draws, setting.room_K);
    if (std::abs(asked.error_N) <= setting.interval_scale * asked.expanded_N) ++coverage.covered;
    coverage.mean_expanded_N += asked.expanded_N / setting.calibrations;
    coverage.mean_error_N += asked.error_N / setting.calibrations;
    coverage.largest_error_N = std::max(coverage.largest_error_N, std::abs(asked.error_N));
  }
  return coverage;
}

}  // namespace benchmarks
