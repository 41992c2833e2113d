// The gas at one instant, and the masses that slow cycling leaves in the chambers.
//
// The transfer port joins the air chambers in a band around x_t. Away from it each is sealed, so
// where the fork rests decides which end of the band it was last joined at: below the band (towards
// full extension) the lower end, above it the upper end.
#pragma once

#include <cmath>

#include "fitting/model/coil.hpp"
#include "fitting/model/gas.hpp"
#include "fitting/model/geometry.hpp"
#include "protocol/record/sweep_record.hpp"

namespace fitting {

// The circumstances of a test, in SI.
struct Circumstances {
  double pressure_gauge_Pa = 0.0;
  int spacers = 0;
  double pumped_temperature_K = 293.15;
  double pumped_ambient_Pa = protocol::kStandardAtmosphere_Pa;
  double temperature_K = 293.15;  // of the walls
  double ambient_Pa = protocol::kStandardAtmosphere_Pa;
  protocol::Vent vent;
};

Circumstances make_circumstances(const protocol::Setting& setting);

template <class T>
struct PortBand {
  T low_m;
  T high_m;
};

template <class T>
PortBand<T> make_band(const LawParameters<T>& p) {
  return {p[kTransferTravel] - 0.5 * p[kTransferBand], p[kTransferTravel] + 0.5 * p[kTransferBand]};
}

template <class T>
struct Masses {
  T positive_kg;
  T negative_kg;
  T lower_kg;
};

// Masses of a fork that was pumped at full extension, cycled slowly, and now rests at x_m.
template <class T>
Masses<T> slow_masses(const LawParameters<T>& p, const Chambers<T>& chambers,
                      const Circumstances& at, const T& x_m) {
  const PortBand<T> band = make_band(p);
  const T zero(0.0);
  const T pumped_Pa =
      at.pressure_gauge_Pa * p[kPressureScale] + p[kFillError] + at.pumped_ambient_Pa;
  const double pumped_RT = kAirGasConstant_J_kgK * at.pumped_temperature_K;
  // Sealed between full extension and the band's low end, the positive chamber keeps its mass
  // there.
  const T low = band.low_m > zero ? band.low_m : zero;
  const T positive_kg = pumped_Pa * chambers.positive_m3(zero) / pumped_RT;
  const T joined_Pa = pumped_Pa * chambers.positive_m3(zero) / chambers.positive_m3(low);
  const T negative_kg = joined_Pa * chambers.negative_m3(low) / pumped_RT;
  const T lower_kg = at.vent.pressure_Pa * chambers.lower_m3(T(at.vent.travel_m)) /
                     (kAirGasConstant_J_kgK * at.vent.temperature_K);
  if (x_m <= low) return {positive_kg, negative_kg, lower_kg};
  const T split = x_m < band.high_m ? x_m : band.high_m;
  const T total_kg = positive_kg + negative_kg;
  const T positive_m3 = chambers.positive_m3(split);
  const T share = positive_m3 / (positive_m3 + chambers.negative_m3(split));
  return {total_kg * share, total_kg * (1.0 - share), lower_kg};
}

// The bumper: progressive over its length, nothing before it.
template <class T>
T bumper_force_N(const LawParameters<T>& p, const Geometry& geometry, const T& x_m) {
  const double length_m = geometry.travel_m - geometry.bumper_start_m;
  if (length_m <= 0.0 || x_m <= geometry.bumper_start_m) return T(0.0);
  const T u = (x_m - geometry.bumper_start_m) / length_m;
  return p[kBumperForce] * u * u;
}

// The damper's gas pushes its rod out the harder, the further it is in; what it pushes at full
// extension is part of the preload.
template <class T>
T damper_gas_N(const LawParameters<T>& p, const Geometry& geometry, const T& x_m) {
  return p[kDamperGas] * x_m / geometry.travel_m;
}

// The open damper's force at a speed, positive in compression.
template <class T>
T damper_force_N(const LawParameters<T>& p, double speed_m_s) {
  return (speed_m_s >= 0.0 ? p[kDamperCompression] : p[kDamperRebound]) * speed_m_s;
}

// The slow spring's parts at one travel; they add up to its force.
template <class T>
struct SpringParts {
  T positive_N;
  T negative_N;
  T lower_N;
  T preload_N;
  T bumper_N;
  T coil_N;
  T top_out_N;
  T positive_Pa;  // absolute

  T total_N() const {
    return positive_N + negative_N + lower_N + preload_N + bumper_N + coil_N + top_out_N;
  }
};

template <class T>
SpringParts<T> spring_parts(const LawParameters<T>& p, const Geometry& geometry,
                            const Chambers<T>& chambers, const Circumstances& at, const T& x_m,
                            const T& positive_Pa, const T& negative_Pa, const T& lower_Pa) {
  return {(positive_Pa - at.ambient_Pa) * chambers.piston_area_m2,
          -(negative_Pa - at.ambient_Pa) * chambers.annulus_area_m2,
          (lower_Pa - at.ambient_Pa) * chambers.lower_area_m2,
          p[kPreload] + damper_gas_N(p, geometry, x_m),
          bumper_force_N(p, geometry, x_m),
          coil_force_N(p, x_m),
          top_out_force_N(p, x_m),
          positive_Pa};
}

// Isothermal, with the masses of slow cycling: the spring itself.
template <class T>
SpringParts<T> slow_spring(const LawParameters<T>& p, const Geometry& geometry,
                           const Chambers<T>& chambers, const Circumstances& at, const T& x_m) {
  const Masses<T> masses = slow_masses(p, chambers, at, x_m);
  const double RT = kAirGasConstant_J_kgK * at.temperature_K;
  return spring_parts(p, geometry, chambers, at, x_m,
                      T(masses.positive_kg * RT / chambers.positive_m3(x_m)),
                      T(masses.negative_kg * RT / chambers.negative_m3(x_m)),
                      T(masses.lower_kg * RT / chambers.lower_m3(x_m)));
}

// Sliding friction over kinetic friction: slow sliding holds more [CanudasDeWit1995] Eq. (5).
template <class T>
T stribeck_factor(const LawParameters<T>& p, double speed_m_s) {
  using std::exp;
  const T share = speed_m_s / p[kStribeckSpeed];
  return 1.0 + p[kStaticExcess] * exp(-share * share);
}

// Kinetic friction, by the positive chamber's pressure.
template <class T>
T kinetic_friction_N(const LawParameters<T>& p, const T& positive_Pa, double ambient_Pa) {
  return p[kFriction] + p[kFrictionPerPressure] * (positive_Pa - ambient_Pa);
}

}  // namespace fitting
