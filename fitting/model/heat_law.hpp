// The force law with heat: the gas of three chambers followed along a path through travel and time.
//
//   sealed chamber   dT/dt = (T_w - T)/tau - (gamma - 1)(T/V) dV/dt        [OtisPourmovahed1985]
//   thermal time     tau = tau_ref (m/m_ref)^a (A_ref/A_w)^a
//                    a = 1 for a constant wall coefficient, 0 for a constant time
//   joined chambers  flow from the higher pressure until they are equal;
//                    enthalpy goes with the mass
//   friction         after a reversal f = s F_c - (s F_c - f_0) exp(-|x - x_0|/delta)
//                    (Dahl, i = 1); F_c grows towards rest by the Stribeck factor
//   damper           c_c v going in, c_r v going out
//
// One step uses the exact exponential for the wall's part with the compression spread evenly over
// the step, so it is right for steps much shorter and much longer than tau. The band's ends are
// located inside the step: opened at sample times, the cost would be a staircase in x_t.
//
// Limits that the tests hold: tau -> 0 is the slow spring; tau -> infinity is p V^1.4; a hold after
// a fast compression decays as exp(-t/tau).
#pragma once

#include <algorithm>
#include <cmath>

#include "fitting/model/fitted_model.hpp"
#include "fitting/model/state.hpp"

namespace fitting {

// How fast joined chambers become equal: in travel through the band, and in time at rest inside it.
inline constexpr double kPortOpening_m = 1e-4;
inline constexpr double kPortTime_s = 0.1;
inline constexpr double kPortPiece_m = 2e-4;

template <class T>
struct GasChamber {
  T mass_kg;
  T temperature_K;
};

template <class T>
struct LawState {
  double time_s = 0.0;
  double record_travel_m = 0.0;
  T travel_m;
  GasChamber<T> positive;
  GasChamber<T> negative;
  GasChamber<T> lower;
  T friction_N;
  T damper_N;
};

// REQUIRES: parameters with positive volumes over the whole path.
template <class T>
class HeatLaw {
 public:
  HeatLaw(GasLaw law, const LawParameters<T>& parameters, const Geometry& geometry,
          const Circumstances& at, const ThermalReference& reference)
      : by_wall_(law == GasLaw::wall_coefficient),
        p_(parameters),
        geometry_(geometry),
        at_(at),
        chambers_(make_chambers(parameters, geometry, at.spacers)),
        band_(make_band(parameters)) {
    const double RT = kAirGasConstant_J_kgK * reference.temperature_K;
    const T positive_kg = reference.pressure_Pa * p_[kPositiveVolume] / RT;
    const T negative_kg = reference.pressure_Pa * p_[kNegativeVolume] / RT;
    const T lower_kg = protocol::kStandardAtmosphere_Pa * p_[kLowerLegVolume] / RT;
    positive_rate_ = 1.0 / p_[kThermalTime] * positive_kg / positive_wall_m2(p_[kPositiveVolume]);
    negative_rate_ =
        1.0 / p_[kNegativeThermalTime] * negative_kg / negative_wall_m2(p_[kNegativeVolume]);
    lower_rate_ = 1.0 / p_[kLowerLegThermalTime] * lower_kg / lower_wall_m2(p_[kLowerLegVolume]);
  }

  // At rest with the room at the given travel of the record, after slow cycles.
  LawState<T> at_rest(double record_travel_m, double time_s) const {
    LawState<T> state;
    state.time_s = time_s;
    state.record_travel_m = record_travel_m;
    state.travel_m = true_travel_m(record_travel_m);
    const Masses<T> masses = slow_masses(p_, chambers_, at_, state.travel_m);
    const T wall_K(at_.temperature_K);
    state.positive = {masses.positive_kg, wall_K};
    state.negative = {masses.negative_kg, wall_K};
    state.lower = {masses.lower_kg, wall_K};
    state.friction_N = T(0.0);
    state.damper_N = T(0.0);
    return state;
  }

  // Moves the state to a travel and a time of the record.
  void advance(LawState<T>& state, double record_travel_m, double time_s) const {
    const T from = state.travel_m;
    const T to = true_travel_m(record_travel_m);
    const double span_s = time_s - state.time_s;
    const bool forward = to >= from;
    const T low = forward ? from : to;
    const T high = forward ? to : from;
    const T open_low = clamp(band_.low_m, low, high);
    const T open_high = clamp(band_.high_m, low, high);
    const T length = high - low;
    if (length <= 0.0) {
      const bool joined = from > band_.low_m && from < band_.high_m;
      move(state, to, T(span_s), joined);
    } else {
      const T pace = span_s / length;  // s/m
      const T first = forward ? open_low : open_high;
      const T second = forward ? open_high : open_low;
      if (distance(from, first) > 0.0) move(state, first, T(pace * distance(from, first)), false);
      if (distance(first, second) > 0.0) pass_band(state, second, pace);
      if (distance(second, to) > 0.0) move(state, to, T(pace * distance(second, to)), false);
    }
    const double moved_m = record_travel_m - state.record_travel_m;
    const double speed_m_s = span_s > 0.0 ? moved_m / span_s : 0.0;
    state.time_s = time_s;
    state.record_travel_m = record_travel_m;
    state.travel_m = to;
    state.damper_N = damper_force_N(p_, speed_m_s);
    slide(state, T(to - from), forward, speed_m_s);
  }

  SpringParts<T> parts(const LawState<T>& state) const {
    return spring_parts(p_, geometry_, chambers_, at_, state.travel_m, positive_Pa(state),
                        negative_Pa(state), lower_Pa(state));
  }
  T gas_force_N(const LawState<T>& state) const { return parts(state).total_N(); }
  T force_N(const LawState<T>& state) const {
    return gas_force_N(state) + state.friction_N + state.damper_N;
  }

  // Friction that slides, where the state stands, at a speed.
  T sliding_N(const LawState<T>& state, double speed_m_s) const {
    return kinetic_friction_N(p_, positive_Pa(state), at_.ambient_Pa) *
           stribeck_factor(p_, speed_m_s);
  }

  T positive_Pa(const LawState<T>& s) const {
    return pressure(s.positive, chambers_.positive_m3(s.travel_m));
  }
  T negative_Pa(const LawState<T>& s) const {
    return pressure(s.negative, chambers_.negative_m3(s.travel_m));
  }
  T lower_Pa(const LawState<T>& s) const {
    return pressure(s.lower, chambers_.lower_m3(s.travel_m));
  }

 private:
  static T pressure(const GasChamber<T>& gas, const T& volume_m3) {
    return gas.mass_kg * kAirGasConstant_J_kgK * gas.temperature_K / volume_m3;
  }
  static T clamp(const T& value, const T& low, const T& high) {
    return value < low ? low : (value > high ? high : value);
  }
  static T distance(const T& a, const T& b) { return a < b ? b - a : a - b; }

  T true_travel_m(double record_travel_m) const { return record_travel_m + p_[kTravelZero]; }

  // A cylinder's ends and side, an annulus, and a cylinder of the stanchion's bore: only how the
  // wall changes with volume matters, since the reference takes the rest.
  T positive_wall_m2(const T& volume_m3) const {
    return 2.0 * chambers_.piston_area_m2 + 4.0 * volume_m3 / p_[kPistonDiameter];
  }
  T negative_wall_m2(const T& volume_m3) const {
    return 2.0 * chambers_.annulus_area_m2 +
           4.0 * volume_m3 / (p_[kPistonDiameter] - geometry_.shaft_diameter_m);
  }
  T lower_wall_m2(const T& volume_m3) const {
    const double diameter_m = std::sqrt(2.0 / 3.14159265358979 * geometry_.lower_area_m2);
    return 2.0 * geometry_.lower_area_m2 + 4.0 * volume_m3 / diameter_m;
  }

  // Time spans per thermal time: dt/tau.
  T decay(const T& span_s, const GasChamber<T>& gas, const T& wall_m2, const T& wall_rate,
          const T& constant_time_s) const {
    if (!by_wall_) return span_s / constant_time_s;
    return span_s * wall_rate * wall_m2 / gas.mass_kg;
  }

  static void compress(GasChamber<T>& gas, const T& from_m3, const T& to_m3, const T& decay,
                       double wall_K) {
    using std::exp;
    using std::log;
    const T adiabatic = exp((kAirHeatRatio - 1.0) * log(from_m3 / to_m3));
    gas.temperature_K = wall_K + (gas.temperature_K - wall_K) * exp(-decay) +
                        gas.temperature_K * (adiabatic - 1.0) * mean_kept(decay);
  }

  // (1 - e^-h)/h: what is left at a step's end of something that came evenly over the step. By its
  // series where the quotient would lose digits.
  static T mean_kept(const T& h) {
    using std::exp;
    return h < 1e-3 ? T(1.0 - 0.5 * h * (1.0 - h / 3.0)) : T((1.0 - exp(-h)) / h);
  }

  void move(LawState<T>& state, const T& to, const T& span_s, bool joined) const {
    const T positive_from = chambers_.positive_m3(state.travel_m);
    const T negative_from = chambers_.negative_m3(state.travel_m);
    const T lower_from = chambers_.lower_m3(state.travel_m);
    const T before_J = joined ? imbalance_J(state, state.travel_m) : T(0.0);
    compress(state.positive, positive_from, chambers_.positive_m3(to),
             decay(span_s, state.positive, positive_wall_m2(positive_from), positive_rate_,
                   p_[kThermalTime]),
             at_.temperature_K);
    compress(state.negative, negative_from, chambers_.negative_m3(to),
             decay(span_s, state.negative, negative_wall_m2(negative_from), negative_rate_,
                   p_[kNegativeThermalTime]),
             at_.temperature_K);
    compress(state.lower, lower_from, chambers_.lower_m3(to),
             decay(span_s, state.lower, lower_wall_m2(lower_from), lower_rate_,
                   p_[kLowerLegThermalTime]),
             at_.temperature_K);
    if (joined) {
      equalise(state, before_J,
               T(distance(state.travel_m, to) / kPortOpening_m + span_s / kPortTime_s), to);
    }
    state.travel_m = to;
  }

  void pass_band(LawState<T>& state, const T& to, const T& pace_s_m) const {
    const T from = state.travel_m;
    const double length_m = scalar(distance(from, to));
    const int pieces = std::max(1, static_cast<int>(std::ceil(length_m / kPortPiece_m)));
    for (int i = 1; i <= pieces; ++i) {
      const T next = from + (to - from) * (double(i) / pieces);
      move(state, next, T(pace_s_m * distance(state.travel_m, next)), true);
    }
  }

  // Enthalpy that would have to pass from the positive to the negative chamber for equal pressures.
  T imbalance_J(const LawState<T>& state, const T& x_m) const {
    const T positive_m3 = chambers_.positive_m3(x_m);
    const T negative_m3 = chambers_.negative_m3(x_m);
    return (energy_J(state.positive) * negative_m3 - energy_J(state.negative) * positive_m3) /
           (positive_m3 + negative_m3);
  }
  static T energy_J(const GasChamber<T>& gas) {
    return kAirHeatAtConstantVolume_J_kgK * gas.mass_kg * gas.temperature_K;
  }

  // Mass that carries the given share of a chamber's energy away as its enthalpy. What stays cools
  // as it expands, so that energy falls as mass^gamma.
  static T given_kg(const T& mass_kg, const T& energy_share) {
    using std::exp;
    using std::log;
    return mass_kg * (1.0 - exp(log(1.0 - energy_share) / kAirHeatRatio));
  }

  // Lets mass and its enthalpy flow through the open port. The imbalance decays with the opening;
  // what the step's own motion adds to it comes evenly over the step, so that the outcome does not
  // hang on how finely the band is cut.
  void equalise(LawState<T>& state, const T& before_J, const T& opening, const T& x_m) const {
    using std::exp;
    const T positive_J = energy_J(state.positive);
    const T negative_J = energy_J(state.negative);
    const T added_J = imbalance_J(state, x_m) - before_J;
    const T enthalpy_J = before_J * (1.0 - exp(-opening)) + added_J * (1.0 - mean_kept(opening));
    const T flow_kg = enthalpy_J > 0.0
                          ? T(given_kg(state.positive.mass_kg, T(enthalpy_J / positive_J)))
                          : T(-given_kg(state.negative.mass_kg, T(-enthalpy_J / negative_J)));
    state.positive.mass_kg -= flow_kg;
    state.negative.mass_kg += flow_kg;
    state.positive.temperature_K =
        (positive_J - enthalpy_J) / (kAirHeatAtConstantVolume_J_kgK * state.positive.mass_kg);
    state.negative.temperature_K =
        (negative_J + enthalpy_J) / (kAirHeatAtConstantVolume_J_kgK * state.negative.mass_kg);
  }

  void slide(LawState<T>& state, const T& moved_m, bool forward, double speed_m_s) const {
    using std::exp;
    const T length = forward ? moved_m : T(-moved_m);
    const T kinetic = (forward ? 1.0 : -1.0) * sliding_N(state, speed_m_s);
    state.friction_N =
        kinetic - (kinetic - state.friction_N) * exp(-length / p_[kPreslidingTravel]);
  }

  static double scalar(const T& value) {
    if constexpr (requires { value.a; }) {
      return value.a;
    } else {
      return value;
    }
  }

  bool by_wall_;
  LawParameters<T> p_;
  Geometry geometry_;
  Circumstances at_;
  Chambers<T> chambers_;
  Band<T> band_;
  T positive_rate_;  // wall coefficient over heat capacity, kg/(s m2)
  T negative_rate_;
  T lower_rate_;
};

}  // namespace fitting
