// Sweeps of the plant without a wire: the records that curve and fit are tested with.
#include "controller/virtual_rig/plant_sweep.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/virtual_rig/truth.hpp"

using namespace controller::virtual_rig;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

PlantFile fork_file(const char* name) {
  const auto file = load_plant(
      std::string(SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/") + name + ".toml");
  REQUIRE(file);
  return *file;
}

Plant pumped(const PlantFile& file) {
  Plant plant(file);
  plant.pump(558475.0, 1, 293.15, 101325.0);
  return plant;
}

// The force where a stroke crosses a travel.
double force_at_N(const protocol::SweepRecord& record, int stroke, double travel_m) {
  for (size_t i = 1; i < record.size(); ++i) {
    const double low = std::min(record.travel_m[i - 1], record.travel_m[i]);
    const double high = std::max(record.travel_m[i - 1], record.travel_m[i]);
    if (record.stroke[i] == stroke && low <= travel_m && travel_m < high) return record.force_N[i];
  }
  FAIL("stroke " << stroke << " never crosses " << travel_m);
  return 0.0;
}

}  // namespace

TEST_CASE("plant sweep: the record is whole and its path is as programmed", "[virtual_rig]") {
  Plant plant = pumped(fork_file("larch_160"));
  SweepProgram program;
  program.measuring_cycles = 2;
  program.conditioning_cycles = 1;
  const protocol::SweepRecord record = plant_sweep(plant, program);
  REQUIRE(record.size() > 0);
  for (const size_t length : {record.time_s.size(), record.stroke.size(), record.travel_m.size(),
                              record.raw_steps.size(), record.raw_counts.size()}) {
    CHECK(length == record.size());
  }
  // 6 strokes of 146 mm at 4 mm/s with a ramp of 80 ms and a dwell of half a second.
  const double expected_s = 6 * (36.5 + 0.08 + 0.5);
  CHECK_THAT(record.time_s.back(), WithinAbs(expected_s, 0.02));
  CHECK_THAT(static_cast<double>(record.size()), WithinAbs(80.0 * expected_s, 2.0));
  CHECK(record.stroke.front() == 0);
  CHECK(record.stroke.back() == 5);
  CHECK(std::is_sorted(record.stroke.begin(), record.stroke.end()));
  const auto farthest = *std::max_element(record.raw_steps.begin(), record.raw_steps.end());
  CHECK_THAT(static_cast<double>(farthest), WithinAbs(146.0 * 400.04, 1.0));
  CHECK(record.metadata.fork.name == "Larch 160");
  CHECK(record.metadata.setting.spacers == 1);
  CHECK(record.metadata.conditioning_cycles == 1);
}

TEST_CASE("plant sweep: the same seed gives the same record, another seed other noise",
          "[virtual_rig]") {
  const PlantFile file = fork_file("basalt_160");
  SweepProgram program;
  program.measuring_cycles = 1;
  program.conditioning_cycles = 0;
  const auto sweep = [&](uint64_t seed) {
    Plant plant = pumped(file);
    SweepInstrument instrument;
    instrument.seed = seed;
    return plant_sweep(plant, program, instrument);
  };
  const protocol::SweepRecord first = sweep(7);
  const protocol::SweepRecord again = sweep(7);
  const protocol::SweepRecord other = sweep(8);
  CHECK(first.raw_counts == again.raw_counts);
  CHECK(first.travel_m == again.travel_m);
  CHECK(first.raw_steps == other.raw_steps);
  CHECK(first.raw_counts != other.raw_counts);
}

TEST_CASE("plant sweep: at 4 mm/s the half-loop is more than twice the seal's friction",
          "[virtual_rig]") {
  const auto name = GENERATE("larch_160", "basalt_160");
  CAPTURE(name);
  const PlantFile file = fork_file(name);
  const Truth truth(file, pumped(file).setting());
  const SettledCycle cycle = truth.settled_cycle(4e-3, 0.0, 0.146);
  const size_t middle = 160;  // 80 mm
  REQUIRE_THAT(cycle.travel_m[middle], WithinAbs(0.080, 1e-9));
  const double half_loop_N = 0.5 * (cycle.compression_N[middle] - cycle.rebound_N[middle]);
  CHECK(half_loop_N > 2.0 * truth.friction_mid_travel_N(4e-3));
}

TEST_CASE("plant sweep: the settled cycle repeats the last strokes of a long sweep",
          "[virtual_rig]") {
  const PlantFile file = fork_file("larch_160");
  Plant plant = pumped(file);
  SweepProgram program;
  program.dwell_s = 0.0;
  program.conditioning_cycles = 8;
  program.measuring_cycles = 1;
  SweepInstrument clean;
  clean.noise = false;
  clean.perfect_cell = true;
  const protocol::SweepRecord record = plant_sweep(plant, program, clean);
  const SettledCycle cycle = Truth(file, plant.setting()).settled_cycle(4e-3, 0.0, 0.146);
  for (const size_t i : {40u, 120u, 200u}) {
    CAPTURE(cycle.travel_m[i]);
    // Because of the play (0.03 mm) and the sample raster (0.05 mm) at 5 to 15 N/mm.
    CHECK_THAT(force_at_N(record, 16, cycle.travel_m[i]), WithinAbs(cycle.compression_N[i], 1.2));
    CHECK_THAT(force_at_N(record, 17, cycle.travel_m[i]), WithinAbs(cycle.rebound_N[i], 1.2));
  }
}

TEST_CASE("plant sweep: frame and play stay in the travel when asked", "[virtual_rig]") {
  const PlantFile file = fork_file("larch_160");
  SweepProgram program;
  program.conditioning_cycles = 0;
  program.measuring_cycles = 1;
  const auto travel_m = [&](bool removed) {
    Plant plant = pumped(file);
    SweepInstrument instrument;
    instrument.frame_removed = removed;
    instrument.backlash_removed = removed;
    return plant_sweep(plant, program, instrument);
  };
  const protocol::SweepRecord with = travel_m(false);
  const protocol::SweepRecord without = travel_m(true);
  REQUIRE(with.size() == without.size());
  const size_t turn = static_cast<size_t>(
      std::max_element(with.raw_steps.begin(), with.raw_steps.end()) - with.raw_steps.begin());
  const double force_N = with.force_N[turn];
  CHECK(force_N > 1000.0);
  // On the way in the carriage trails by half the play.
  CHECK_THAT(with.travel_m[turn] - without.travel_m[turn],
             WithinAbs(force_N / 6.5e6 + 0.015e-3, 1e-9));
}

TEST_CASE("plant sweep: slower is narrower until only friction is left", "[virtual_rig]") {
  const PlantFile file = fork_file("basalt_160");
  const Truth truth(file, pumped(file).setting());
  double former_N = 1e9;
  for (const double speed_m_s : {8e-3, 4e-3, 2e-3, 0.5e-3}) {
    CAPTURE(speed_m_s);
    const SettledCycle cycle = truth.settled_cycle(speed_m_s, 0.0, 0.12);
    const double heat_N = 0.5 * (cycle.compression_N[160] - cycle.rebound_N[160]) -
                          truth.friction_mid_travel_N(speed_m_s);
    CHECK(heat_N < former_N);
    former_N = heat_N;
  }
  CHECK(former_N < 6.0);
}
