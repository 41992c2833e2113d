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
