// Eight numbers at a time, in whatever registers the instruction set has, with exp and log that are
// right to a few units in the last place.
//
// Everything here is inlined into the function that uses it, so that each clone of that function
// (clones.hpp) compiles it for its own instruction set.
#pragma once

#include <cstdint>
#include <cstring>

namespace fitting::lanes {

inline constexpr int kWidth = 8;

typedef double Lanes __attribute__((vector_size(64)));
typedef std::int64_t LaneBits __attribute__((vector_size(64)));

#define SPRINGWRIGHT_LANE static inline __attribute__((always_inline))

SPRINGWRIGHT_LANE Lanes load(const double* from) {
  Lanes out;
  std::memcpy(&out, from, sizeof out);
  return out;
}
SPRINGWRIGHT_LANE void store(double* to, Lanes value) {
  std::memcpy(to, &value, sizeof value);
}
SPRINGWRIGHT_LANE Lanes all(double value) {
  return Lanes{value, value, value, value, value, value, value, value};
}
SPRINGWRIGHT_LANE double sum(Lanes v) {
  return ((v[0] + v[4]) + (v[1] + v[5])) + ((v[2] + v[6]) + (v[3] + v[7]));
}
SPRINGWRIGHT_LANE Lanes larger(Lanes a, double b) {
  return a > all(b) ? a : all(b);
}

// e^x for |x| < 700: 2^k times the series of the rest, |rest| <= ln(2)/2, to the 12th term (2e-16).
SPRINGWRIGHT_LANE Lanes exp(Lanes x) {
  // Adding 1.5 * 2^52 leaves the nearest integer in the low bits.
  const Lanes magic = all(6755399441055744.0);
  const Lanes shifted = x * 1.4426950408889634 + magic;
  const LaneBits power = reinterpret_cast<LaneBits>(shifted) << 52;
  const Lanes whole = shifted - magic;
  // ln 2 in two parts, so that the rest keeps its digits.
  const Lanes rest = (x - whole * 6.93147180369123816490e-01) - whole * 1.90821492927058770002e-10;
  constexpr double kTerms[] = {1.0 / 6227020800.0,
                               1.0 / 479001600.0,
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
  Lanes series = all(kTerms[0]);
  for (int i = 1; i < 14; ++i) series = series * rest + kTerms[i];
  return reinterpret_cast<Lanes>(reinterpret_cast<LaneBits>(series) + power);
}

// What ln x is made of, for normal x > 0: x = 2^exponent mantissa, mantissa near one.
struct Logarithm {
  Lanes exponent;
  Lanes mantissa;
};

SPRINGWRIGHT_LANE Logarithm take_apart(Lanes x) {
  // Bits of sqrt(1/2): mantissas lie between it and sqrt(2).
  constexpr std::int64_t kRootHalf = 0x3fe6a09e667f3bcdLL;
  const LaneBits bits = reinterpret_cast<LaneBits>(x);
  const LaneBits exponent = (bits - kRootHalf) >> 52;
  return {__builtin_convertvector(exponent, Lanes),
          reinterpret_cast<Lanes>(bits - (exponent << 52))};
}

// The series of atanh in f = (mantissa - 1) / (mantissa + 1), to f^17 (9e-16).
SPRINGWRIGHT_LANE Lanes logarithm(const Logarithm& of, Lanes f) {
  const Lanes square = f * f;
  Lanes series = all(2.0 / 17.0);
  for (int odd = 15; odd >= 1; odd -= 2) series = series * square + 2.0 / odd;
  return f * series + of.exponent * 0.6931471805599453;
}

struct Three {
  Lanes a;
  Lanes b;
  Lanes c;
};

// Divisions are dear: three reciprocals for one.
SPRINGWRIGHT_LANE Three reciprocals(Lanes a, Lanes b, Lanes c) {
  const Lanes ab = a * b;
  const Lanes inverse = 1.0 / (ab * c);
  const Lanes c_inverse = inverse * c;
  return {c_inverse * b, c_inverse * a, inverse * ab};
}

// Three logarithms for one division.
SPRINGWRIGHT_LANE Three logarithms(Lanes a, Lanes b, Lanes c) {
  const Logarithm la = take_apart(a);
  const Logarithm lb = take_apart(b);
  const Logarithm lc = take_apart(c);
  const Three r = reciprocals(la.mantissa + 1.0, lb.mantissa + 1.0, lc.mantissa + 1.0);
  return {logarithm(la, (la.mantissa - 1.0) * r.a), logarithm(lb, (lb.mantissa - 1.0) * r.b),
          logarithm(lc, (lc.mantissa - 1.0) * r.c)};
}

}  // namespace fitting::lanes
