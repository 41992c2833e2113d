#include "controller/virtual_rig/slow_spring.hpp"

#include <algorithm>
#include <cmath>

#include "controller/virtual_rig/air.hpp"

namespace controller::virtual_rig {
namespace {

double smooth_step(double fraction) {
  const double t = std::clamp(fraction, 0.0, 1.0);
  return t * t * (3.0 - 2.0 * t);
}

// Travels between which the port is open at all.
double port_begin_m(const TransferPort& port) {
  return std::max(0.0, port.centre_m - 0.5 * (port.band_m + port.edge_m));
}
double port_end_m(const TransferPort& port) {
  return port.centre_m + 0.5 * (port.band_m + port.edge_m);
}

}  // namespace

double positive_volume_m3(const PlantFork& fork, int spacers, double travel_m) {
  return fork.positive.volume_m3 - spacers * fork.spacer_volume_m3 -
         fork.piston_area_m2() * travel_m;
}

double negative_volume_m3(const PlantFork& fork, double travel_m) {
  return fork.negative.volume_m3 + fork.negative_area_m2() * travel_m;
}

double lower_leg_volume_m3(const PlantFork& fork, double travel_m) {
  return fork.lower_legs.volume_m3 - fork.lower_leg_area_m2() * travel_m;
}

double solid_force_N(const PlantFork& fork, double travel_m) {
  double force_N = fork.preload_N;
  const double into_m = travel_m - (fork.travel_m - fork.bumper_m);
  if (into_m > 0.0 && fork.bumper_m > 0.0) {
    const double r = into_m / fork.bumper_m;
    force_N += fork.bumper_full_N * r * r * r;
  }
  return force_N;
}

double port_opening(const TransferPort& port, double travel_m) {
  const double from_begin_m = travel_m - (port.centre_m - 0.5 * port.band_m);
  const double to_end_m = port.centre_m + 0.5 * port.band_m - travel_m;
  return smooth_step(0.5 + from_begin_m / port.edge_m) * smooth_step(0.5 + to_end_m / port.edge_m);
}

SlowSpring::SlowSpring(const PlantFork& fork, const protocol::Setting& setting)
    : fork_(fork), setting_(setting) {
  const double pumped_K = setting.pumped_temperature_K.value_or(setting.temperature_K);
  const double read_Pa = setting.pressure_gauge_Pa +
                         setting.pumped_ambient_pressure_Pa.value_or(setting.ambient_pressure_Pa);
  // Above the band the positive chamber keeps the mass it had when the port closed behind it; the
  // negative chamber was equal to it there.
  const double begin_m = port_begin_m(fork.port);
  const double positive_kg = Air::density_kg_m3(pumped_K, read_Pa) *
                             virtual_rig::positive_volume_m3(fork, setting.spacers, 0.0);
  const double begin_density = positive_kg / positive_volume_m3(fork, setting.spacers, begin_m);
  total_kg_ = positive_kg + begin_density * negative_volume_m3(fork, begin_m);
  lower_leg_kg_ = Air::density_kg_m3(setting.vent.temperature_K, setting.vent.pressure_Pa) *
                  lower_leg_volume_m3(fork, setting.vent.travel_m);
}

SlowState SlowSpring::state(double spring_travel_m) const {
  const double joined_m =
      std::clamp(spring_travel_m, port_begin_m(fork_.port), port_end_m(fork_.port));
  const double joined_positive_m3 = positive_volume_m3(fork_, setting_.spacers, joined_m);
  const double joined_density =
      total_kg_ / (joined_positive_m3 + negative_volume_m3(fork_, joined_m));
  SlowState state;
  state.positive_kg = joined_density * joined_positive_m3;
  state.negative_kg = total_kg_ - state.positive_kg;
  state.lower_leg_kg = lower_leg_kg_;
  const double room_K = setting_.temperature_K;
  state.positive_Pa = Air::pressure_Pa(
      room_K, state.positive_kg / positive_volume_m3(fork_, setting_.spacers, spring_travel_m));
  state.negative_Pa =
      Air::pressure_Pa(room_K, state.negative_kg / negative_volume_m3(fork_, spring_travel_m));
  state.lower_leg_Pa =
      Air::pressure_Pa(room_K, lower_leg_kg_ / lower_leg_volume_m3(fork_, spring_travel_m));
  return state;
}

double SlowSpring::spring_force_N(double spring_travel_m) const {
  const SlowState gas = state(spring_travel_m);
  const double ambient_Pa = setting_.ambient_pressure_Pa;
  return (gas.positive_Pa - ambient_Pa) * fork_.piston_area_m2() -
         (gas.negative_Pa - ambient_Pa) * fork_.negative_area_m2() +
         (gas.lower_leg_Pa - ambient_Pa) * fork_.lower_leg_area_m2() +
         solid_force_N(fork_, spring_travel_m);
}

double SlowSpring::force_N(double axle_travel_m) const {
  // The bushings are hundreds of times stiffer than the spring: this converges at once.
  double force = spring_force_N(axle_travel_m);
  for (int i = 0; i < 6; ++i) force = spring_force_N(axle_travel_m - force / fork_.bushing_N_m);
  return force;
}

}  // namespace controller::virtual_rig
