// A coil spring by its elements: a rate, a second one that joins further in, and a top-out spring
// that pulls against both near full extension.
//
//   F = k x + k_a r(x - x_a) - k_t r(x_t - x)        r(u) = (u + sqrt(u^2 + w^2))/2
//
// Corners are rounded over a width w: no coil closes at once, and a fit can follow them.
#pragma once

#include <cmath>

#include "fitting/model/law_parameters.hpp"

namespace fitting {

inline constexpr double kCornerWidth_m = 5e-4;

template <class T>
T rounded_ramp_m(const T& u_m) {
  using std::sqrt;
  return 0.5 * (u_m + sqrt(u_m * u_m + kCornerWidth_m * kCornerWidth_m));
}

template <class T>
T coil_force_N(const LawParameters<T>& p, const T& x_m) {
  return p[kCoilRate] * x_m + p[kAddedRate] * rounded_ramp_m(T(x_m - p[kAddedRateFrom]));
}

template <class T>
T top_out_force_N(const LawParameters<T>& p, const T& x_m) {
  return -p[kTopOutRate] * rounded_ramp_m(T(p[kTopOutTravel] - x_m));
}

}  // namespace fitting
