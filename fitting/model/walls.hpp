// How fast each chamber's gas takes on the walls' temperature.
//
// A cylinder's ends and side, an annulus, and a cylinder of the stanchion's bore: only how the wall
// changes with volume matters, since the thermal times are stated at a reference state.
#pragma once

#include <algorithm>
#include <cmath>

#include "fitting/model/fitted_model.hpp"
#include "fitting/model/state.hpp"

namespace fitting {

// Where there are no lower legs, their wall still has to be a number.
inline constexpr double kSmallestBore_m = 1e-3;

template <class T>
struct Wall {
  T start_m2;    // of no volume
  T per_m3;      // more for each volume
  T rate;        // wall coefficient over heat capacity, kg/(s m2); 1/s for a constant time
  bool by_wall;  // false: a constant time, whatever wall and mass

  // Thermal times that a span takes: dt/tau.
  T decay(const T& span_s, const T& mass_kg, const T& volume_m3) const {
    if (!by_wall) return span_s * rate;
    return span_s * rate * (start_m2 + per_m3 * volume_m3) / mass_kg;
  }
};

template <class T>
struct Walls {
  Wall<T> positive;
  Wall<T> negative;
  Wall<T> lower;
};

template <class T>
Walls<T> make_walls(GasLaw law, const LawParameters<T>& p, const Geometry& geometry,
                    const Chambers<T>& chambers, const ThermalReference& reference) {
  const bool by_wall = law == GasLaw::wall_coefficient;
  const auto make = [&](const T& start_m2, const T& per_m3, const T& time_s, const T& volume_m3,
                        double pressure_Pa) {
    Wall<T> wall{start_m2, per_m3, T(1.0 / time_s), by_wall};
    if (!by_wall) return wall;
    const double RT = kAirGasConstant_J_kgK * reference.temperature_K;
    wall.rate = wall.rate * (pressure_Pa / RT * volume_m3) / (start_m2 + per_m3 * volume_m3);
    return wall;
  };
  const double bore_m =
      std::max(kSmallestBore_m, std::sqrt(2.0 / 3.14159265358979 * geometry.lower_area_m2));
  return {make(T(2.0 * chambers.piston_area_m2), T(4.0 / p[kPistonDiameter]), p[kThermalTime],
               p[kPositiveVolume], reference.pressure_Pa),
          make(T(2.0 * chambers.annulus_area_m2),
               T(4.0 / (p[kPistonDiameter] - geometry.shaft_diameter_m)), p[kNegativeThermalTime],
               p[kNegativeVolume], reference.pressure_Pa),
          make(T(2.0 * geometry.lower_area_m2), T(4.0 / bore_m), p[kLowerLegThermalTime],
               p[kLowerLegVolume], protocol::kStandardAtmosphere_Pa)};
}

}  // namespace fitting
