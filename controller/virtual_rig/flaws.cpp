#include "controller/virtual_rig/flaws.hpp"

namespace controller::virtual_rig {

double Flaws::friction_N(double sound_N, double travel_m) const {
  double friction_N = sound_N;
  for (const FrictionZone& zone : friction_zones) {
    if (travel_m < zone.from_m || travel_m > zone.to_m) continue;
    friction_N = friction_N * zone.factor + zone.extra_N;
  }
  return friction_N;
}

double Flaws::given_way_m3(double positive_Pa) const {
  if (!floating_chamber || positive_Pa <= floating_chamber->fill_Pa) return 0.0;
  return floating_chamber->volume_m3 * (1.0 - floating_chamber->fill_Pa / positive_Pa);
}

}  // namespace controller::virtual_rig
