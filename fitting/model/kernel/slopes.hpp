// Derivatives by N parameters side by side, as the heat kernel carries them: sums of products, and
// nothing else.
//
// N = 0 carries none, and every line about slopes comes to nothing.
#pragma once

#include <type_traits>

#include "fitting/model/dual.hpp"
#include "fitting/model/lanes.hpp"

namespace fitting::kernel {

template <int N>
struct Slopes {
  static constexpr int kParts = N / 8;
  lanes::Eight v[kParts > 0 ? kParts : 1] = {};
};

// What parameters are while the law's constants are made of them.
template <int N>
using Number = std::conditional_t<N == 0, double, Dual<N == 0 ? 8 : N>>;

SPRINGWRIGHT_LANE double value_of(double x) {
  return x;
}
template <int N>
SPRINGWRIGHT_LANE double value_of(const Dual<N>& x) {
  return x.a;
}
SPRINGWRIGHT_LANE Slopes<0> slopes_of(double) {
  return {};
}
template <int N>
SPRINGWRIGHT_LANE Slopes<N> slopes_of(const Dual<N>& x) {
  Slopes<N> out;
  for (int i = 0; i < Slopes<N>::kParts; ++i) out.v[i] = lanes::load<lanes::Eight>(x.v + 8 * i);
  return out;
}

template <int N>
SPRINGWRIGHT_LANE bool any(const Slopes<N>& x) {
  for (int i = 0; i < Slopes<N>::kParts; ++i) {
    for (int k = 0; k < 8; ++k) {
      if (x.v[i][k] != 0.0) return true;
    }
  }
  return false;
}

template <int N>
struct Term {
  double factor;
  const Slopes<N>& of;
};
template <int N>
SPRINGWRIGHT_LANE Term<N> times(double factor, const Slopes<N>& of) {
  return {factor, of};
}

// out = the sum of all terms; out may be among them.
template <int N, class... Terms>
SPRINGWRIGHT_LANE void combine(Slopes<N>& out, const Terms&... terms) {
  for (int i = 0; i < Slopes<N>::kParts; ++i) out.v[i] = ((terms.factor * terms.of.v[i]) + ...);
}
// out += the sum of all terms.
template <int N, class... Terms>
SPRINGWRIGHT_LANE void add(Slopes<N>& out, const Terms&... terms) {
  for (int i = 0; i < Slopes<N>::kParts; ++i) out.v[i] += ((terms.factor * terms.of.v[i]) + ...);
}

}  // namespace fitting::kernel
