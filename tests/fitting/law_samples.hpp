// Forks made of numbers alone, for the tests of the force law: one whole, and one that is a single
// chamber.
#pragma once

#include <cmath>
#include <numbers>

#include "fitting/model/follow.hpp"

namespace law_samples {

// A whole fork with everything in it.
inline fitting::LawParameters<double> fork() {
  using namespace fitting;
  LawParameters<double> p{};
  p[kPositiveVolume] = 214e-6;
  p[kNegativeVolume] = 34.5e-6;
  p[kLowerLegVolume] = 405e-6;
  p[kPreload] = 11.0;
  p[kFriction] = 6.5;
  p[kFrictionPerPressure] = 1.15e-5;
  p[kPreslidingTravel] = 3e-4;
  p[kStribeckSpeed] = 1e-3;
  p[kTransferTravel] = 3.2e-3;
  p[kTransferBand] = 1.2e-3;
  p[kThermalTime] = 3.0;
  p[kNegativeThermalTime] = 2.0;
  p[kLowerLegThermalTime] = 0.4;
  p[kBumperForce] = 800.0;
  p[kExponent] = 1.15;
  p[kLowerLegExponent] = 1.05;
  p[kSpacerVolume] = 7e-6;
  p[kPistonDiameter] = 31.8e-3;
  p[kDamperRodArea] = circle_area_m2(10e-3);
  p[kPressureScale] = 1.0;
  return p;
}

inline fitting::Geometry geometry() {
  fitting::Geometry out;
  out.shaft_diameter_m = 9e-3;
  out.lower_area_m2 = 2.0 * fitting::circle_area_m2(35e-3) - fitting::circle_area_m2(9e-3);
  out.travel_m = 0.160;
  out.bumper_start_m = 0.153;
  return out;
}

inline fitting::Circumstances circumstances() {
  fitting::Circumstances out;
  out.pressure_gauge_Pa = 558475.0;
  out.spacers = 1;
  return out;
}

inline constexpr fitting::ThermalReference kReference{8e5, 293.15};

// One sealed chamber and nothing else: the shaft is as wide as the piston, so that no annulus is
// left; the lower legs have no area, the negative chamber no volume worth naming, and the port
// closes at full extension.
struct SingleChamber {
  fitting::LawParameters<double> parameters{};
  fitting::Geometry geometry;
  fitting::Circumstances at;

  // Absolute pressures.
  SingleChamber(double area_m2, double volume_m3, double pressure_Pa, double ambient_Pa) {
    using namespace fitting;
    parameters[kPistonDiameter] = std::sqrt(4.0 * area_m2 / std::numbers::pi);
    parameters[kPositiveVolume] = volume_m3;
    parameters[kNegativeVolume] = 1e-9 * volume_m3;
    parameters[kLowerLegVolume] = 1e-4;
    parameters[kPreslidingTravel] = 1e-4;
    parameters[kStribeckSpeed] = 1e-3;
    parameters[kThermalTime] = parameters[kNegativeThermalTime] = 1.0;
    parameters[kLowerLegThermalTime] = 1.0;
    parameters[kExponent] = parameters[kLowerLegExponent] = 1.0;
    parameters[kPressureScale] = 1.0;
    geometry.shaft_diameter_m = parameters[kPistonDiameter];
    geometry.travel_m = geometry.bumper_start_m = 1e3;
    at.pressure_gauge_Pa = pressure_Pa - ambient_Pa;
    at.ambient_Pa = at.pumped_ambient_Pa = ambient_Pa;
  }

  fitting::HeatLaw<double> heat_law() const {
    return {fitting::GasLaw::constant_time, parameters, geometry, at, kReference};
  }
  fitting::Chambers<double> chambers() const {
    return fitting::make_chambers(parameters, geometry, 0);
  }
};

// A path of single points at constant speed between low and high, back and forth, cut in steps.
inline fitting::Path triangle_path(double low_m, double high_m, double step_m, double speed_m_s,
                                   int cycles) {
  fitting::Path path;
  path.has_time = true;
  path.start_m = low_m;
  path.speed_m_s = speed_m_s;
  path.largest_travel_m = high_m;
  path.strokes = 2 * cycles;
  path.noise_N = 1.0;
  const int steps = static_cast<int>(std::lround((high_m - low_m) / step_m));
  double time_s = 0.0;
  for (int stroke = 0; stroke < 2 * cycles; ++stroke) {
    for (int i = 1; i <= steps; ++i) {
      const double share = double(stroke % 2 == 0 ? i : steps - i) / steps;
      time_s += step_m / speed_m_s;
      fitting::PathNode node;
      node.time_s = time_s;
      node.travel_m = low_m + share * (high_m - low_m);
      node.rows = 1;
      node.direction = stroke % 2 == 0 ? +1 : -1;
      node.stroke = stroke;
      path.nodes.push_back(node);
    }
  }
  path.samples = path.nodes.size();
  return path;
}

}  // namespace law_samples
