// The fork in the limit of infinite slowness: every gas at its wall's temperature, the chambers
// equal wherever the port is open at all. What a gauge reads, what a fill leaves in each chamber,
// and the force without friction.
#pragma once

#include "controller/virtual_rig/plant_file.hpp"
#include "protocol/record/sweep_record.hpp"

namespace controller::virtual_rig {

struct SlowState {
  double positive_kg = 0.0, negative_kg = 0.0, lower_leg_kg = 0.0;
  double positive_Pa = 0.0, negative_Pa = 0.0, lower_leg_Pa = 0.0;  // absolute
};

// Volumes at a travel (of the air spring itself, behind the bushings).
double positive_volume_m3(const PlantFork& fork, int spacers, double travel_m);
double negative_volume_m3(const PlantFork& fork, double travel_m);
double lower_leg_volume_m3(const PlantFork& fork, double travel_m);

// Forces of everything but gas and friction: preload, bumper.
double solid_force_N(const PlantFork& fork, double travel_m);

// How far the port is open at a travel, 0 to 1, smooth at both edges.
double port_opening(const TransferPort& port, double travel_m);

class SlowSpring {
 public:
  // Fills as at the pump: the gauge reads its pressure at full extension after slow cycles, where
  // and when it was pumped; the test's temperature and air come after.
  SlowSpring(const PlantFork& fork, const protocol::Setting& setting);

  SlowState state(double spring_travel_m) const;
  // At a travel of the air spring, and at one of the axle (the bushings give way between).
  double spring_force_N(double spring_travel_m) const;
  double force_N(double axle_travel_m) const;

 private:
  PlantFork fork_;
  protocol::Setting setting_;
  double total_kg_ = 0.0;  // positive and negative chamber together
  double lower_leg_kg_ = 0.0;
};

}  // namespace controller::virtual_rig
