// The flaws of a plant do what they say, and a plant without them is untouched.
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/virtual_rig/plant_sweep.hpp"
#include "controller/virtual_rig/slow_spring.hpp"

namespace {

using namespace controller::virtual_rig;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

constexpr double kFill_Pa = 5.6e5;  // gauge
constexpr double kSlow_m_s = 1e-3;

PlantFile larch() {
  auto file = load_plant(SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/larch_160.toml");
  REQUIRE(file);
  // Rigid, so that forces are compared at the same travel.
  file->bench.frame_N_m = 1e12;
  file->fork.bushing_N_m = 1e12;
  file->bench.backlash_m = 0.0;
  return *file;
}

Plant pumped(const Flaws& flaws) {
  Plant plant(larch());
  plant.set_flaws(flaws);
  plant.pump(kFill_Pa, 0, 293.15, protocol::kStandardAtmosphere_Pa);
  return plant;
}

// Half of what lies between pressing and pulling through one travel, at the same speed.
double half_loop_N(Plant plant, double at_m) {
  plant.drive_to(at_m - 2e-3, (at_m - 2e-3) / kSlow_m_s);
  plant.drive_to(at_m, 2e-3 / kSlow_m_s);
  const double in_N = plant.force_N();
  plant.drive_to(at_m + 2e-3, 2e-3 / kSlow_m_s);
  plant.drive_to(at_m, 2e-3 / kSlow_m_s);
  return 0.5 * (in_N - plant.force_N());
}

TEST_CASE("plant flaws: a zone of friction adds its newtons to the half-loop, inside alone",
          "[core]") {
  Flaws flaws;
  flaws.friction_zones = {{0.060, 0.075, 1.0, 20.0}};
  // Because the damper and the gas are in both, what is left is the zone's friction, larger by the
  // static share that is left at this speed: 1 + 0.3 exp(-(1/2.5)^2) = 1.26.
  const double inside_N = half_loop_N(pumped(flaws), 0.068) - half_loop_N(pumped({}), 0.068);
  CHECK_THAT(inside_N, WithinRel(20.0 * (1.0 + 0.3 * std::exp(-0.16)), 0.02));
  const double outside_N = half_loop_N(pumped(flaws), 0.050) - half_loop_N(pumped({}), 0.050);
  CHECK_THAT(outside_N, WithinAbs(0.0, 0.01));
}

TEST_CASE("plant flaws: factors of zones multiply what friction there is", "[core]") {
  Flaws flaws;
  flaws.friction_zones = {{0.01, 0.02, 2.0, 0.0}, {0.015, 0.03, 1.0, 5.0}};
  CHECK(flaws.friction_N(8.0, 0.005) == 8.0);
  CHECK(flaws.friction_N(8.0, 0.012) == 16.0);
  CHECK(flaws.friction_N(8.0, 0.018) == 21.0);
  CHECK(flaws.friction_N(8.0, 0.025) == 13.0);
}

TEST_CASE("plant flaws: a vented negative chamber leaves the positive one alone at the top",
          "[core]") {
  Flaws flaws;
  flaws.negative_vented = true;
  const Plant plant = pumped(flaws);
  const PlantFork& fork = plant.file().fork;
  CHECK_THAT(plant.force_N(), WithinRel(kFill_Pa * fork.piston_area_m2() + fork.preload_N, 2e-3));
  // Sound, it is held back by nearly as much as it is pushed.
  CHECK(pumped({}).force_N() < 0.2 * plant.force_N());
}

TEST_CASE("plant flaws: a floating chamber gives way from its fill on, by Boyle's law", "[core]") {
  Flaws flaws;
  flaws.floating_chamber = FloatingChamber{40e-6, 1.0e6};
  CHECK(flaws.given_way_m3(0.99e6) == 0.0);
  CHECK_THAT(flaws.given_way_m3(1.25e6), WithinRel(8e-6, 1e-12));
  CHECK(Flaws{}.given_way_m3(2e6) == 0.0);

  Plant soft = pumped(flaws);
  Plant sound = pumped({});
  for (Plant* plant : {&soft, &sound}) plant->drive_to(0.03, 30.0);
  CHECK(soft.force_N() == sound.force_N());
  for (Plant* plant : {&soft, &sound}) plant->drive_to(0.14, 110.0);
  CHECK(soft.force_N() < 0.98 * sound.force_N());
  // P_e V_e / (V_e - y) = P_p: the two gases stand at one pressure.
  const double given_m3 = flaws.given_way_m3(soft.positive().pressure_Pa());
  CHECK_THAT(
      soft.positive().volume_m3(),
      WithinRel(positive_volume_m3(soft.file().fork, 0, soft.spring_travel_m()) + given_m3, 1e-4));
}

}  // namespace
