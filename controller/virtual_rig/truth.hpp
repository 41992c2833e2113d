// What is really so in a virtual fork: the values that a fit should find, and the curves that a
// prediction should meet. For tests.
#pragma once

#include <vector>

#include "controller/virtual_rig/plant_file.hpp"
#include "controller/virtual_rig/slow_spring.hpp"
#include "protocol/record/sweep_record.hpp"

namespace controller::virtual_rig {

// Two strokes of a cycle that repeats itself, over the axle's travel.
struct SettledCycle {
  std::vector<double> travel_m;
  std::vector<double> compression_N;
  std::vector<double> rebound_N;
};

class Truth {
 public:
  Truth(const PlantFile& file, const protocol::Setting& setting);

  double positive_volume_m3() const { return file_.fork.positive.volume_m3; }  // no spacers
  double negative_volume_m3() const { return file_.fork.negative.volume_m3; }
  double lower_leg_volume_m3() const { return file_.fork.lower_legs.volume_m3; }
  double preload_N() const { return file_.fork.preload_N; }
  double transfer_travel_m() const { return file_.fork.port.centre_m; }

  // Seal friction in steady sliding at a travel and speed (its Stribeck value there), with the
  // slow pressure. The damper is not in it.
  double friction_N(double travel_m, double speed_m_s) const;
  double friction_mid_travel_N(double speed_m_s) const {
    return friction_N(0.5 * file_.fork.travel_m, speed_m_s);
  }

  double slow_spring_N(double axle_travel_m) const { return slow_.force_N(axle_travel_m); }

  // Force over the axle's travel in steps of step_m between the ends, after as many cycles as it
  // takes to settle; no noise, no play, no frame.
  SettledCycle settled_cycle(double speed_m_s, double from_m, double to_m,
                             double step_m = 5e-4) const;

 private:
  PlantFile file_;
  protocol::Setting setting_;
  SlowSpring slow_;
};

}  // namespace controller::virtual_rig
