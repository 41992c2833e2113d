// Eight or sixteen numbers at a time, in whatever registers the instruction set has, with exp and
// log that are right to a few units in the last place.
//
// Sixteen fill two registers of the widest set: long chains of dependent operations then wait for
// each other half as often. Everything here is inlined into the function that uses it, so that each
// clone of that function (clones.hpp) compiles it for its own instruction set.
#pragma once

#include <cstdint>
#include <cstring>

namespace fitting::lanes {

typedef double Eight __attribute__((vector_size(64)));
typedef double Sixteen __attribute__((vector_size(128)));

template <class V>
inline constexpr int kWidth = sizeof(V) / sizeof(double);
// Integers of the same width: what comparing gives.
template <class V>
using Bits = decltype(V{} < V{});

#define SPRINGWRIGHT_LANE static inline __attribute__((always_inline))

template <class V>
SPRINGWRIGHT_LANE V load(const double* from) {
  V out;
  std::memcpy(&out, from, sizeof out);
  return out;
}
template <class V>
SPRINGWRIGHT_LANE void store(double* to, V value) {
  std::memcpy(to, &value, sizeof value);
}
template <class V>
SPRINGWRIGHT_LANE V all(double value) {
  return value - V{};
}
template <class V>
SPRINGWRIGHT_LANE double sum(V v) {
  double out = 0.0;
  for (int i = 0; i < kWidth<V>; ++i) out += v[i];
  return out;
}
template <class V>
SPRINGWRIGHT_LANE V larger(V a, double b) {
  const V other = all<V>(b);
  return a > other ? a : other;
}

// e^x: 2^k times the series of the rest, |rest| <= ln(2)/2, to the 12th term (2e-16). Beyond
// |x| = 700, where a trial step of the solver may wander, it is e^700 or e^-700: 2^k still exists.
template <class V>
SPRINGWRIGHT_LANE V exp(V x) {
  x = x < all<V>(-700.0) ? all<V>(-700.0) : x;
  x = x > all<V>(700.0) ? all<V>(700.0) : x;
  // Adding 1.5 * 2^52 leaves the nearest integer in the low bits.
  constexpr double kMagic = 6755399441055744.0;
  const V shifted = x * 1.4426950408889634 + kMagic;
  const Bits<V> power = reinterpret_cast<Bits<V>>(shifted) << 52;
  const V whole = shifted - kMagic;
  // ln 2 in two parts, so that the rest keeps its digits.
  const V rest = (x - whole * 6.93147180369123816490e-01) - whole * 1.90821492927058770002e-10;
  constexpr double kTerms[] = {1.0 / 479001600.0,
                               1.0 / 39916800.0,
                               1.0 / 3628800.0,
                               1.0 / 362880.0,
                               1.0 / 40320.0,
                               1.0 / 5040.0,
                               1.0 / 720.0,
                               1.0 / 120.0,
                               1.0 / 24.0,
                               1.0 / 6.0,
                               0.5,
                               1.0,
                               1.0};
  V series = all<V>(kTerms[0]);
  for (int i = 1; i < 13; ++i) series = series * rest + kTerms[i];
  return reinterpret_cast<V>(reinterpret_cast<Bits<V>>(series) + power);
}

inline constexpr double kLeastNormal = 2.2250738585072014e-308;

// What ln x is made of, for normal x > 0: x = 2^exponent mantissa, mantissa near one. What is not
// greater than nothing is taken for the least of all: its logarithm is -708.
template <class V>
struct Logarithm {
  V exponent;
  V mantissa;
};

template <class V>
SPRINGWRIGHT_LANE Logarithm<V> take_apart(V x) {
  // Bits of sqrt(1/2): mantissas lie between it and sqrt(2).
  constexpr std::int64_t kRootHalf = 0x3fe6a09e667f3bcdLL;
  // A chamber that is tried without a volume has no logarithm; its bits must not overflow.
  const V tried = larger<V>(x, kLeastNormal);
  const Bits<V> bits = reinterpret_cast<Bits<V>>(tried);
  const Bits<V> exponent = (bits - kRootHalf) >> 52;
  return {__builtin_convertvector(exponent, V), reinterpret_cast<V>(bits - (exponent << 52))};
}

// The series of atanh in f = (mantissa - 1) / (mantissa + 1), to f^17 (9e-16).
template <class V>
SPRINGWRIGHT_LANE V logarithm(const Logarithm<V>& of, V f) {
  const V square = f * f;
  V series = all<V>(2.0 / 17.0);
  for (int odd = 15; odd >= 1; odd -= 2) series = series * square + 2.0 / odd;
  return f * series + of.exponent * 0.6931471805599453;
}

template <class V>
struct Three {
  V a;
  V b;
  V c;
};

// Divisions are dear: three reciprocals for one.
template <class V>
SPRINGWRIGHT_LANE Three<V> reciprocals(V a, V b, V c) {
  const V ab = a * b;
  const V inverse = 1.0 / (ab * c);
  const V c_inverse = inverse * c;
  return {c_inverse * b, c_inverse * a, inverse * ab};
}

// Three logarithms for one division.
template <class V>
SPRINGWRIGHT_LANE Three<V> logarithms(V a, V b, V c) {
  const Logarithm<V> la = take_apart(a);
  const Logarithm<V> lb = take_apart(b);
  const Logarithm<V> lc = take_apart(c);
  const Three<V> r = reciprocals<V>(la.mantissa + 1.0, lb.mantissa + 1.0, lc.mantissa + 1.0);
  return {logarithm<V>(la, (la.mantissa - 1.0) * r.a), logarithm<V>(lb, (lb.mantissa - 1.0) * r.b),
          logarithm<V>(lc, (lc.mantissa - 1.0) * r.c)};
}

}  // namespace fitting::lanes
