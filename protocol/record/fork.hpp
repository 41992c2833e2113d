// A fork, or a shock, as its owner measures it: what a fork file says and what a fit starts from.
//
// All SI. A value that the file leaves out is empty here; whoever needs it assumes one and says so.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

#include "protocol/units.hpp"

namespace protocol {

// A fork has lower legs that trap air; a shock has none, and is known by its own shaft's force and
// travel, whatever linkage it sits in.
enum class ForkKind { air, coil, air_shock, coil_shock };

constexpr bool has_air_spring(ForkKind kind) {
  return kind == ForkKind::air || kind == ForkKind::air_shock;
}
constexpr bool has_lower_legs(ForkKind kind) {
  return kind == ForkKind::air || kind == ForkKind::coil;
}

// In the order of ForkKind, the words that files have for it.
inline constexpr std::array<std::string_view, 4> kForkKindNames = {"air", "coil", "air_shock",
                                                                   "coil_shock"};
constexpr std::string_view kind_name(ForkKind kind) {
  return kForkKindNames[static_cast<std::size_t>(kind)];
}

struct AirSpring {
  double piston_diameter_m = 0.0;
  double shaft_diameter_m = 0.0;
  // Effective volume at full extension, without spacers.
  std::optional<Toleranced> positive_volume_m3;
  std::optional<Toleranced> negative_volume_m3;
  std::optional<Toleranced> transfer_travel_m;
  std::optional<double> spacer_volume_m3;  // each
};

// All of it only starts a fit, or with a tolerance is a prior.
struct CoilSpring {
  std::optional<Toleranced> rate_N_m;
  // The whole rate beyond the travel where coils have closed, or a second spring has joined.
  std::optional<Toleranced> second_rate_N_m;
  std::optional<Toleranced> second_rate_from_m;
  // The spring that pulls against the main one near full extension, up to a travel.
  std::optional<Toleranced> top_out_rate_N_m;
  std::optional<Toleranced> top_out_travel_m;
};

struct LowerLegs {
  std::optional<double> stanchion_diameter_m;  // outer, each of two legs
  std::optional<Toleranced> volume_m3;         // air in both, at full extension
};

// What a test report says of it besides: no fit asks for any of this.
struct TestSheet {
  std::optional<double> mass_kg;  // as weighed
  std::string price;              // with its currency, as the owner writes it
  std::string remarks;
};

struct Fork {
  std::string name;
  double travel_m = 0.0;
  double maximum_pressure_Pa = 0.0;  // gauge; the fork's own limit; 0 where nothing is pumped
  ForkKind kind = ForkKind::air;
  AirSpring air_spring;    // of an air kind
  CoilSpring coil_spring;  // of a coil kind
  LowerLegs lower_legs;    // of a fork
  std::optional<double> damper_rod_diameter_m;
  std::optional<double> bumper_m;  // length of the bottom-out bumper
  TestSheet sheet;
};

}  // namespace protocol
