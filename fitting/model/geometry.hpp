// The fork's fixed measures as the law needs them: areas, and how much wall each chamber shows its
// gas.
#pragma once

#include <numbers>

#include "fitting/model/law_parameters.hpp"
#include "protocol/record/fork.hpp"

namespace fitting {

// Bumper length assumed where the fork file names none.
inline constexpr double kAssumedBumper_m = 0.010;
inline constexpr double kAssumedStanchion_m = 0.034;
// A closed damper cartridge's rod, or none: where the file is silent, between the two.
inline constexpr double kAssumedRodArea_m2 = 5e-5;
inline constexpr double kAssumedRodAreaDoubt_m2 = 4e-5;

// What a kind has not, acts nowhere: its area is none.
struct Geometry {
  bool has_piston = true;  // of an air spring
  bool has_lower_legs = true;
  double shaft_diameter_m = 0.0;
  double lower_area_m2 = 0.0;  // outer area of both stanchions, less the air shaft
  double travel_m = 0.0;
  double bumper_start_m = 0.0;  // where the bumper begins
};

inline double circle_area_m2(double diameter_m) {
  return std::numbers::pi / 4.0 * diameter_m * diameter_m;
}

inline Geometry make_geometry(const protocol::Fork& fork) {
  const double stanchion_m = fork.lower_legs.stanchion_diameter_m.value_or(kAssumedStanchion_m);
  Geometry geometry;
  geometry.has_piston = protocol::has_air_spring(fork.kind);
  geometry.has_lower_legs = protocol::has_lower_legs(fork.kind);
  if (geometry.has_piston) geometry.shaft_diameter_m = fork.air_spring.shaft_diameter_m;
  if (geometry.has_lower_legs) {
    geometry.lower_area_m2 =
        2.0 * circle_area_m2(stanchion_m) - circle_area_m2(geometry.shaft_diameter_m);
  }
  geometry.travel_m = fork.travel_m;
  geometry.bumper_start_m = fork.travel_m - fork.bumper_m.value_or(kAssumedBumper_m);
  return geometry;
}

// What the law derives from its parameters once per evaluation.
template <class T>
struct Chambers {
  T piston_area_m2;   // A_p
  T annulus_area_m2;  // A_n = A_p - A_s
  T positive_0_m3;    // at full extension, spacers taken off
  T negative_0_m3;
  T lower_0_m3;
  T lower_area_m2;  // A_l

  T positive_m3(const T& x_m) const { return positive_0_m3 - piston_area_m2 * x_m; }
  T negative_m3(const T& x_m) const { return negative_0_m3 + annulus_area_m2 * x_m; }
  T lower_m3(const T& x_m) const { return lower_0_m3 - lower_area_m2 * x_m; }
};

template <class T>
Chambers<T> make_chambers(const LawParameters<T>& p, const Geometry& geometry, int spacers) {
  const T none(0.0);
  const T piston_area = std::numbers::pi / 4.0 * p[kPistonDiameter] * p[kPistonDiameter];
  const T annulus_area = piston_area - circle_area_m2(geometry.shaft_diameter_m);
  return {geometry.has_piston ? piston_area : none,
          geometry.has_piston ? annulus_area : none,
          p[kPositiveVolume] - double(spacers) * p[kSpacerVolume],
          p[kNegativeVolume],
          p[kLowerLegVolume],
          geometry.has_lower_legs ? T(geometry.lower_area_m2 - p[kDamperRodArea]) : none};
}

}  // namespace fitting
