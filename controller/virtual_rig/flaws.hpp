// What may be wrong with a fork that no force law expects. A plant with one of these is for asking
// whether a fit finds out; a sound plant has none.
#pragma once

#include <optional>
#include <vector>

namespace controller::virtual_rig {

// Between two travels the seals and bushings rub by so much more.
struct FrictionZone {
  double from_m = 0.0;
  double to_m = 0.0;
  double factor = 1.0;
  double extra_N = 0.0;
};

// Gas of its own behind a piston that floats: closed until the positive chamber outdoes its fill,
// from there on it gives way, P_e V_e / (V_e - y) = P_p, at the wall's temperature.
struct FloatingChamber {
  double volume_m3 = 0.0;
  double fill_Pa = 0.0;  // absolute
};

struct Flaws {
  bool negative_vented = false;  // the negative chamber holds nothing but the room's air
  std::optional<FloatingChamber> floating_chamber;
  std::vector<FrictionZone> friction_zones;

  // What friction without flaws becomes at a travel.
  double friction_N(double sound_N, double travel_m) const;
  // How much larger the positive chamber is for the floating piston having moved; 0 below the fill.
  double given_way_m3(double positive_Pa) const;
};

}  // namespace controller::virtual_rig
