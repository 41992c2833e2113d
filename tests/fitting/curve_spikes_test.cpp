// Lone outliers are found and left out; turns, steps and steep slopes are none.
#include "fitting/curve/spikes.hpp"

#include <catch2/catch.hpp>

#include "tests/fitting/made_records.hpp"

using namespace fitting;

namespace {

// A steep spring with friction that turns at once: the hardest curve to tell from spikes.
protocol::SweepRecord steep(double noise_N, double friction_N, unsigned seed,
                            double rows_per_s = 20.0) {
  made::Sweep plan;
  plan.force_noise_N = noise_N;
  plan.rows_per_s = rows_per_s;
  plan.seed = seed;
  return made::sweep(plan, [friction_N](double x, int direction) {
    return 40.0 + 2.5e4 * x * x / 0.15 + 150.0 * std::exp(-x / 0.004) + direction * friction_N;
  });
}

}  // namespace

TEST_CASE("spikes: turns, steps of friction and noise are none", "[curve]") {
  const double noise_N = GENERATE(0.0, 0.3, 1.5);
  const double friction_N = GENERATE(0.0, 10.0, 40.0);
  for (unsigned seed = 1; seed <= 5; ++seed) {
    CAPTURE(noise_N, friction_N, seed);
    CHECK(find_spikes(steep(noise_N, friction_N, seed).force_N).empty());
  }
}

TEST_CASE("spikes: a jump off the curve and back is found, alone or up to three in a row",
          "[curve]") {
  const int rows = GENERATE(1, 2, 3);
  const double size_N = GENERATE(60.0, -60.0, 5000.0);
  protocol::SweepRecord record = steep(1.0, 12.0, 7, 80.0);
  std::vector<std::size_t> put;
  for (std::size_t at = 100; at + 100 < record.size(); at += 97) {
    for (int k = 0; k < rows; ++k) put.push_back(at + static_cast<std::size_t>(k));
  }
  for (std::size_t row : put) record.force_N[row] += size_N;
  CHECK(find_spikes(record.force_N) == put);

  const protocol::SweepRecord sound = without_rows(record, put);
  const protocol::SweepRecord before = steep(1.0, 12.0, 7, 80.0);
  REQUIRE(sound.size() == record.size() - put.size());
  CHECK(sound.time_s.size() == sound.size());
  CHECK(sound.stroke.size() == sound.size());
  CHECK(sound.raw_counts.empty());
  CHECK(sound.force_N[100] == before.force_N[100 + static_cast<std::size_t>(rows)]);
  CHECK(sound.travel_m.back() == before.travel_m.back());
}

TEST_CASE("spikes: a longer burst stays, since it has a cause", "[curve]") {
  protocol::SweepRecord record = steep(1.0, 12.0, 8, 80.0);
  for (std::size_t row = 300; row < 312; ++row) record.force_N[row] += 60.0;
  CHECK(find_spikes(record.force_N).empty());
}

TEST_CASE("spikes: too few rows and what is no number are left to others", "[curve]") {
  CHECK(find_spikes({1.0, 900.0, 1.0}).empty());
  std::vector<double> force_N(100, 5.0);
  force_N[50] = std::nan("");
  CHECK(find_spikes(force_N).empty());
}
