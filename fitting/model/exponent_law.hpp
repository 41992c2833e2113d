// The force law without a clock: every chamber follows p V^n with an effective exponent from the
// travel where the port joined the air chambers, and friction turns round after each reversal.
//
// What the clock would tell, friction from heat, cannot be told here: the friction of this law is
// the half-loop, an upper bound.
#pragma once

#include <cmath>

#include "fitting/model/state.hpp"

namespace fitting {

template <class T>
class ExponentLaw {
 public:
  ExponentLaw(const LawParameters<T>& parameters, const Geometry& geometry, const Circumstances& at)
      : p_(parameters),
        geometry_(geometry),
        at_(at),
        chambers_(make_chambers(parameters, geometry, at.spacers)) {
    const Masses<T> masses = slow_masses(p_, chambers_, at_, p_[kTransferTravel]);
    const double RT = kAirGasConstant_J_kgK * at_.temperature_K;
    joined_Pa_ = masses.positive_kg * RT / chambers_.positive_m3(p_[kTransferTravel]);
    lower_Pa_ = masses.lower_kg * RT / chambers_.lower_m3(T(0.0));
  }

  SpringParts<T> parts(const T& x_m) const {
    const T& x_t = p_[kTransferTravel];
    return spring_parts(p_, geometry_, chambers_, at_, x_m,
                        polytropic(joined_Pa_, chambers_.positive_m3(x_t),
                                   chambers_.positive_m3(x_m), p_[kExponent]),
                        polytropic(joined_Pa_, chambers_.negative_m3(x_t),
                                   chambers_.negative_m3(x_m), p_[kExponent]),
                        polytropic(lower_Pa_, chambers_.lower_m3(T(0.0)), chambers_.lower_m3(x_m),
                                   p_[kLowerLegExponent]));
  }

  T true_travel_m(double record_travel_m) const { return record_travel_m + p_[kTravelZero]; }

  // Friction at a distance from the reversal where it was at_turn_N, with the positive chamber at
  // this pressure. direction: +1 compression, -1 rebound.
  T friction_N(int direction, double from_turn_m, const T& at_turn_N, const T& positive_Pa) const {
    using std::exp;
    const T sliding_N = double(direction) * kinetic_friction_N(p_, positive_Pa, at_.ambient_Pa);
    const T kept = exp(-std::abs(from_turn_m) / p_[kPreslidingTravel]);
    return sliding_N - (sliding_N - at_turn_N) * kept;
  }

  const T& joined_Pa() const { return joined_Pa_; }
  const T& lower_Pa() const { return lower_Pa_; }

 private:
  static T polytropic(const T& from_Pa, const T& from_m3, const T& to_m3, const T& exponent) {
    using std::exp;
    using std::log;
    return from_Pa * exp(exponent * log(from_m3 / to_m3));
  }

  LawParameters<T> p_;
  Geometry geometry_;
  Circumstances at_;
  Chambers<T> chambers_;
  T joined_Pa_;
  T lower_Pa_;
};

}  // namespace fitting
