// A fork as its owner measures it: what a fork file says and what a fit starts from.
//
// All SI. A value that the file leaves out is empty here; whoever needs it assumes one and says so.
#pragma once

#include <optional>
#include <string>

#include "protocol/units.hpp"

namespace protocol {

enum class ForkKind { air };

struct AirSpring {
  double piston_diameter_m = 0.0;
  double shaft_diameter_m = 0.0;
  // Effective volume at full extension, without spacers.
  std::optional<Toleranced> positive_volume_m3;
  std::optional<Toleranced> negative_volume_m3;
  std::optional<Toleranced> transfer_travel_m;
  std::optional<double> spacer_volume_m3;  // each
};

struct LowerLegs {
  std::optional<double> stanchion_diameter_m;  // outer, each of two legs
  std::optional<Toleranced> volume_m3;         // air in both, at full extension
};

struct Fork {
  std::string name;
  double travel_m = 0.0;
  double maximum_pressure_Pa = 0.0;  // gauge; the fork's own limit
  ForkKind kind = ForkKind::air;
  AirSpring air_spring;
  LowerLegs lower_legs;
  std::optional<double> damper_rod_diameter_m;
  std::optional<double> bumper_m;  // length of the bottom-out bumper
};

}  // namespace protocol
