// The virtual load cell: each of its vices alone.
#include "controller/virtual_rig/load_cell.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace controller::virtual_rig;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// Without vices.
LoadCellData plain() {
  LoadCellData data;
  data.counts_per_N = 800.0;
  data.offset_counts = 1000.0;
  return data;
}

}  // namespace

TEST_CASE("load cell: counts are offset plus gain times force, to half a count", "[virtual_rig]") {
  LoadCell cell(plain(), 1);
  CHECK(cell.sample(0.0, 293.15, 0.0125) == 1000);
  CHECK(cell.sample(1234.5, 293.15, 0.0125) == 1000 + 987600);
  CHECK(cell.sample(0.0007, 293.15, 0.0125) == 1001);
  CHECK(cell.sample(-10.0, 293.15, 0.0125) == -7000);
  CHECK_THAT(cell.nominal_N(988600), WithinRel(1234.5, 1e-12));
}

TEST_CASE("load cell: beyond 24 bits it stays at the end codes", "[virtual_rig]") {
  LoadCell cell(plain(), 1);
  CHECK(cell.sample(20000.0, 293.15, 0.0125) == 0x7FFFFF);
  CHECK(cell.sample(-20000.0, 293.15, 0.0125) == -0x800000);
}

TEST_CASE("load cell: noise has the stated spread and no bias", "[virtual_rig]") {
  LoadCellData data = plain();
  data.noise_N = 1.2;
  LoadCell cell(data, 42);
  constexpr int kSamples = 20000;
  double sum = 0.0;
  double squares = 0.0;
  for (int i = 0; i < kSamples; ++i) {
    const double force_N = cell.nominal_N(cell.sample(0.0, 293.15, 0.0125));
    sum += force_N;
    squares += force_N * force_N;
  }
  // Because the standard errors are 1.2/sqrt(n) and 1.2/sqrt(2 n): four of them.
  CHECK_THAT(sum / kSamples, WithinAbs(0.0, 0.034));
  CHECK_THAT(std::sqrt(squares / kSamples), WithinAbs(1.2, 0.024));
}

TEST_CASE("load cell: creep follows the load slowly", "[virtual_rig]") {
  LoadCellData data = plain();
  data.creep = 1e-3;
  data.creep_time_s = 60.0;
  LoadCell cell(data, 1);
  CHECK_THAT(cell.nominal_N(cell.sample(1000.0, 293.15, 1e-6)), WithinAbs(1000.0, 0.002));
  CHECK_THAT(cell.nominal_N(cell.sample(1000.0, 293.15, 60.0)),
             WithinAbs(1000.0 + 1.0 - std::exp(-1.0), 0.002));
  CHECK_THAT(cell.nominal_N(cell.sample(1000.0, 293.15, 6000.0)), WithinAbs(1001.0, 0.002));
}

TEST_CASE("load cell: non-linearity is largest half-way and nothing at the ends", "[virtual_rig]") {
  LoadCellData data = plain();
  data.non_linearity = 1e-3;
  LoadCell cell(data, 1);
  CHECK_THAT(cell.nominal_N(cell.sample(2500.0, 293.15, 0.0125)), WithinAbs(2505.0, 0.002));
  CHECK_THAT(cell.nominal_N(cell.sample(5000.0, 293.15, 0.0125)), WithinAbs(5000.0, 0.002));
}

TEST_CASE("load cell: zero and gain drift with the room", "[virtual_rig]") {
  LoadCellData data = plain();
  data.zero_drift_N_per_K = 0.2;
  data.gain_drift_per_K = 1e-4;
  LoadCell cell(data, 1);
  CHECK_THAT(cell.nominal_N(cell.sample(0.0, 303.15, 0.0125)), WithinAbs(2.0, 0.002));
  CHECK_THAT(cell.nominal_N(cell.sample(1000.0, 303.15, 0.0125)), WithinAbs(1003.0, 0.002));
}

namespace {

LoadCellData with_hysteresis() {
  LoadCellData data = plain();
  data.hysteresis = 1e-3;  // 5 N of 5000 N
  return data;
}

// What the cell says beyond the force, at each force of a path that is walked in small steps.
struct Walker {
  LoadCell cell;
  double at_N = 0.0;

  explicit Walker(const LoadCellData& data) : cell(data, 1) {}
  double to(double force_N) {
    const double step_N = force_N > at_N ? 10.0 : -10.0;
    while (std::abs(force_N - at_N) > 10.0) {
      at_N += step_N;
      cell.sample(at_N, 293.15, 0.0125);
    }
    at_N = force_N;
    return cell.nominal_N(cell.sample(force_N, 293.15, 0.0125)) - force_N;
  }
};

constexpr double kCount_N = 0.002;  // because one count is 1/800 N

}  // namespace

TEST_CASE("load cell: a loop to full scale opens half-way by the hysteresis and closes at its ends",
          "[virtual_rig]") {
  Walker walker(with_hysteresis());
  walker.to(5000.0);
  walker.to(0.0);  // settled from here
  const double up_N = walker.to(2500.0);
  CHECK_THAT(up_N, WithinAbs(0.0, kCount_N));
  CHECK_THAT(walker.to(5000.0), WithinAbs(0.0, kCount_N));
  CHECK_THAT(walker.to(2500.0) - up_N, WithinAbs(5.0, kCount_N));
  CHECK_THAT(walker.to(0.0), WithinAbs(0.0, kCount_N));
}

TEST_CASE("load cell: coming down it never says less than going up", "[virtual_rig]") {
  Walker walker(with_hysteresis());
  walker.to(5000.0);
  for (double force_N = 4750.0; force_N > 0.0; force_N -= 250.0) {
    CAPTURE(force_N);
    const double more_N = walker.to(force_N);
    CHECK(more_N > 0.2);
    CHECK(more_N < 5.0 + kCount_N);
  }
}

TEST_CASE("load cell: a smaller loop is a smaller copy", "[virtual_rig]") {
  Walker walker(with_hysteresis());
  walker.to(5000.0);
  walker.to(0.0);
  for (const double top_N : {2500.0, 1250.0, 625.0}) {
    CAPTURE(top_N);
    walker.to(top_N);
    // Because the largest stops take no part, and eight of them end the series: 1/128 at most.
    CHECK_THAT(walker.to(0.5 * top_N), WithinRel(5.0 * top_N / 5000.0, 0.03));
    CHECK_THAT(walker.to(0.0), WithinAbs(0.0, kCount_N));
  }
}

TEST_CASE("load cell: a loop within a loop returns to the point where it left", "[virtual_rig]") {
  Walker walker(with_hysteresis());
  walker.to(5000.0);
  const double left_N = walker.to(3000.0);
  CHECK(walker.to(3600.0) < left_N);
  CHECK_THAT(walker.to(3000.0), WithinAbs(left_N, kCount_N));
  // And the way on is that of a cell that never turned.
  Walker straight(with_hysteresis());
  straight.to(5000.0);
  CHECK_THAT(walker.to(1500.0), WithinAbs(straight.to(1500.0), kCount_N));
}

TEST_CASE("load cell: the first loading leaves a small rest at zero, later ones none",
          "[virtual_rig]") {
  Walker walker(with_hysteresis());
  const double before_N = walker.to(0.0);
  walker.to(5000.0);
  const double after_N = walker.to(0.0);
  CHECK_THAT(after_N - before_N, WithinAbs(0.05 * 5.0, kCount_N));
  walker.to(5000.0);
  CHECK(walker.to(0.0) == after_N);
}

TEST_CASE("load cell: hysteresis is of the path, not of the time or the seed", "[virtual_rig]") {
  LoadCell slow(with_hysteresis(), 1);
  LoadCell fast(with_hysteresis(), 2);
  for (const double force_N : {0.0, 1000.0, 4000.0, 2000.0, 3000.0, 500.0, 0.0}) {
    CAPTURE(force_N);
    CHECK(slow.sample(force_N, 293.15, 60.0) == fast.sample(force_N, 293.15, 1e-3));
  }
  // With noise as well, one seed is one record.
  LoadCellData noisy = with_hysteresis();
  noisy.noise_N = 1.2;
  LoadCell first(noisy, 7);
  LoadCell second(noisy, 7);
  LoadCell other(noisy, 8);
  bool differs = false;
  for (int i = 0; i < 100; ++i) {
    const double force_N = 50.0 * (i < 50 ? i : 100 - i);
    const auto counts = first.sample(force_N, 293.15, 0.0125);
    CHECK(counts == second.sample(force_N, 293.15, 0.0125));
    differs = differs || counts != other.sample(force_N, 293.15, 0.0125);
  }
  CHECK(differs);
}

TEST_CASE("load cell: without hysteresis the path leaves no trace", "[virtual_rig]") {
  Walker walker(plain());
  walker.to(5000.0);
  CHECK_THAT(walker.to(2500.0), WithinAbs(0.0, kCount_N));
}
