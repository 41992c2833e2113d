// The force law with heat: the gas of three chambers followed along a path through travel and time.
//
//   sealed chamber   dT/dt = (T_w - T)/tau - (gamma - 1)(T/V) dV/dt        [OtisPourmovahed1985]
//   thermal time     tau = tau_ref (m/m_ref)^a (A_ref/A_w)^a
//                    a = 1 for a constant wall coefficient, 0 for a constant time
//   joined chambers  flow from the higher pressure until they are equal;
//                    enthalpy goes with the mass
//   friction         after a reversal f = s F_c - (s F_c0 - f_0) exp(-|x - x_0|/delta)
//                    (Dahl, i = 1; F_c0 at the reversal); F_c grows towards rest by the Stribeck
//                    factor
//   damper           c_c v going in, c_r v going out
//
// With u = T V^(gamma - 1) the sealed chamber is linear, du/dt = (T_w V^(gamma - 1) - u)/tau. One
// step takes its exact exponential, the thermal time at the mean volume, and T_w V^(gamma - 1) even
// over the step: right for steps much shorter and much longer than tau, and of second order
// between. The band's ends are located inside the step: opened at sample times, the cost would be a
// staircase in x_t.
//
// Limits that the tests hold: tau -> 0 is the slow spring; tau -> infinity is p V^1.4; a hold after
// a fast compression decays as exp(-t/tau).
#pragma once

#include <algorithm>
#include <cmath>

#include "fitting/model/fitted_model.hpp"
#include "fitting/model/state.hpp"
#include "fitting/model/walls.hpp"

namespace fitting {

// How fast joined chambers become equal: in travel through the band, and in time at rest inside it.
inline constexpr double kPortOpening_m = 1e-4;
inline constexpr double kPortTime_s = 0.1;
inline constexpr double kPortPiece_m = 1e-4;

// Into how many pieces a step is cut inside the band: by the whole step's length, since by the part
// inside the force would jump wherever an edge, which moves with x_t, makes one piece more. Pieces
// are a third longer at most; so no round step stands where its number of pieces changes.
inline int port_pieces(double step_m) {
  return std::max(1, static_cast<int>(std::ceil(step_m / kPortPiece_m - 0.3)));
}

template <class T>
struct GasChamber {
  T mass_kg;
  T temperature_K;
};

// Of the two joined chambers.
template <class T>
struct Energies {
  T positive;
  T negative;
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
      : p_(parameters),
        geometry_(geometry),
        at_(at),
        chambers_(make_chambers(parameters, geometry, at.spacers)),
        band_(make_band(parameters)),
        walls_(make_walls(law, parameters, geometry, chambers_, reference)) {}

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
    const T from_Pa = positive_Pa(state);
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
      if (distance(first, second) > 0.0)
        pass_band(state, second, pace, port_pieces(scalar(length)));
      if (distance(second, to) > 0.0) move(state, to, T(pace * distance(second, to)), false);
    }
    const double moved_m = record_travel_m - state.record_travel_m;
    const double speed_m_s = span_s > 0.0 ? moved_m / span_s : 0.0;
    state.time_s = time_s;
    state.record_travel_m = record_travel_m;
    state.travel_m = to;
    state.damper_N = damper_force_N(p_, speed_m_s);
    slide(state, from_Pa, T(to - from), speed_m_s);
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

  // RETURNS: of a deviation from the wall's temperature that comes evenly over the step, what is
  // left at its end.
  T compress(GasChamber<T>& gas, const Wall<T>& wall, const T& from_m3, const T& to_m3,
             const T& span_s) const {
    using std::exp;
    using std::log;
    const T decay = wall.decay(span_s, gas.mass_kg, T(0.5 * (from_m3 + to_m3)));
    const T adiabatic = exp((kAirHeatRatio - 1.0) * log(from_m3 / to_m3));
    const T kept = exp(-decay);
    const T mean = mean_kept(decay);
    gas.temperature_K = gas.temperature_K * adiabatic * kept +
                        at_.temperature_K * (1.0 - mean + adiabatic * (mean - kept));
    return mean;
  }

  // (1 - e^-h)/h: what is left at a step's end of something that came evenly over the step. By its
  // series where the quotient would lose digits.
  static T mean_kept(const T& h) {
    using std::exp;
    return h < 1e-3 ? T(1.0 - 0.5 * h * (1.0 - h / 3.0)) : T((1.0 - exp(-h)) / h);
  }

  void move(LawState<T>& state, const T& to, const T& span_s, bool joined) const {
    const T& from = state.travel_m;
    const Energies<T> before = energies_J(state);
    const T positive = compress(state.positive, walls_.positive, chambers_.positive_m3(from),
                                chambers_.positive_m3(to), span_s);
    const T negative = compress(state.negative, walls_.negative, chambers_.negative_m3(from),
                                chambers_.negative_m3(to), span_s);
    compress(state.lower, walls_.lower, chambers_.lower_m3(from), chambers_.lower_m3(to), span_s);
    if (joined) {
      const Energies<T> left{enthalpy_left(positive), enthalpy_left(negative)};
      const T opening = distance(from, to) / kPortOpening_m + span_s / kPortTime_s;
      equalise(state, left, imbalance_J(before, left, from), opening, to);
    }
    state.travel_m = to;
  }

  void pass_band(LawState<T>& state, const T& to, const T& pace_s_m, int pieces) const {
    const T from = state.travel_m;
    for (int i = 1; i <= pieces; ++i) {
      const T next = from + (to - from) * (double(i) / pieces);
      move(state, next, T(pace_s_m * distance(state.travel_m, next)), true);
    }
  }

  static T energy_J(const GasChamber<T>& gas) {
    return kAirHeatAtConstantVolume_J_kgK * gas.mass_kg * gas.temperature_K;
  }
  static Energies<T> energies_J(const LawState<T>& state) {
    return {energy_J(state.positive), energy_J(state.negative)};
  }

  // Of enthalpy that passed evenly over a step, the energy that a chamber has of it in the end: it
  // came hotter than the gas by gamma, and the wall has taken of that.
  static T enthalpy_left(const T& deviation_left) {
    return 1.0 - (1.0 - 1.0 / kAirHeatRatio) * (1.0 - deviation_left);
  }

  // Enthalpy that would have to pass from the positive to the negative chamber for equal pressures.
  T imbalance_J(const Energies<T>& gas_J, const Energies<T>& left, const T& x_m) const {
    const T positive_m3 = chambers_.positive_m3(x_m);
    const T negative_m3 = chambers_.negative_m3(x_m);
    return (gas_J.positive * negative_m3 - gas_J.negative * positive_m3) /
           (positive_m3 * left.negative + negative_m3 * left.positive);
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
  void equalise(LawState<T>& state, const Energies<T>& left, const T& before_J, const T& opening,
                const T& x_m) const {
    using std::exp;
    const Energies<T> sealed = energies_J(state);
    const T added_J = imbalance_J(sealed, left, x_m) - before_J;
    const T enthalpy_J = before_J * (1.0 - exp(-opening)) + added_J * (1.0 - mean_kept(opening));
    const T flow_kg = enthalpy_J > 0.0
                          ? given_kg(state.positive.mass_kg, T(enthalpy_J / sealed.positive))
                          : T(-given_kg(state.negative.mass_kg, T(-enthalpy_J / sealed.negative)));
    state.positive.mass_kg -= flow_kg;
    state.negative.mass_kg += flow_kg;
    state.positive.temperature_K = (sealed.positive - enthalpy_J * left.positive) /
                                   (kAirHeatAtConstantVolume_J_kgK * state.positive.mass_kg);
    state.negative.temperature_K = (sealed.negative + enthalpy_J * left.negative) /
                                   (kAirHeatAtConstantVolume_J_kgK * state.negative.mass_kg);
  }

  // At rest friction keeps what it is. Moving, its distance from kinetic friction fades.
  void slide(LawState<T>& state, const T& from_Pa, const T& moved_m, double speed_m_s) const {
    using std::exp;
    if (!(moved_m < 0.0) && !(moved_m > 0.0)) return;
    const bool forward = moved_m > 0.0;
    const T length = forward ? moved_m : T(-moved_m);
    const T factor = (forward ? 1.0 : -1.0) * stribeck_factor(p_, speed_m_s);
    const T before_N = factor * kinetic_friction_N(p_, from_Pa, at_.ambient_Pa);
    const T after_N = factor * kinetic_friction_N(p_, positive_Pa(state), at_.ambient_Pa);
    state.friction_N =
        after_N - (before_N - state.friction_N) * exp(-length / p_[kPreslidingTravel]);
  }

  static double scalar(const T& value) {
    if constexpr (requires { value.a; }) {
      return value.a;
    } else {
      return value;
    }
  }

  LawParameters<T> p_;
  Geometry geometry_;
  Circumstances at_;
  Chambers<T> chambers_;
  PortBand<T> band_;
  Walls<T> walls_;
};

}  // namespace fitting
