// A number with its derivatives by N parameters, for the force law: the same templates that run
// with plain numbers run with these.
//
// Unlike a general jet its width is that of the parameters in use, and its loops are plain arrays,
// which every instruction set vectorises. Derivatives are exact (forward mode), not differences.
#pragma once

#include <cmath>

namespace fitting {

template <int N>
struct alignas(64) Dual {
  double a = 0.0;
  alignas(64) double v[N] = {};

  Dual() = default;
  Dual(double value) : a(value) {}  // NOLINT(google-explicit-constructor): a constant
  Dual(double value, int position) : a(value) { v[position] = 1.0; }

  Dual& operator+=(const Dual& o) {
    a += o.a;
    for (int i = 0; i < N; ++i) v[i] += o.v[i];
    return *this;
  }
  Dual& operator-=(const Dual& o) {
    a -= o.a;
    for (int i = 0; i < N; ++i) v[i] -= o.v[i];
    return *this;
  }
};

// f(x) with f' at x.
template <int N>
inline Dual<N> chain(double value, double slope, const Dual<N>& x) {
  Dual<N> out(value);
  for (int i = 0; i < N; ++i) out.v[i] = slope * x.v[i];
  return out;
}
// f(x, y) with its slopes.
template <int N>
inline Dual<N> chain(double value, double by_x, const Dual<N>& x, double by_y, const Dual<N>& y) {
  Dual<N> out(value);
  for (int i = 0; i < N; ++i) out.v[i] = by_x * x.v[i] + by_y * y.v[i];
  return out;
}

template <int N>
inline Dual<N> operator-(const Dual<N>& x) {
  return chain(-x.a, -1.0, x);
}
template <int N>
inline Dual<N> operator+(const Dual<N>& x, const Dual<N>& y) {
  return chain(x.a + y.a, 1.0, x, 1.0, y);
}
template <int N>
inline Dual<N> operator-(const Dual<N>& x, const Dual<N>& y) {
  return chain(x.a - y.a, 1.0, x, -1.0, y);
}
template <int N>
inline Dual<N> operator*(const Dual<N>& x, const Dual<N>& y) {
  return chain(x.a * y.a, y.a, x, x.a, y);
}
template <int N>
inline Dual<N> operator/(const Dual<N>& x, const Dual<N>& y) {
  const double inverse = 1.0 / y.a;
  const double quotient = x.a * inverse;
  return chain(quotient, inverse, x, -quotient * inverse, y);
}

template <int N>
inline Dual<N> operator+(const Dual<N>& x, double y) {
  Dual<N> out = x;
  out.a += y;
  return out;
}
template <int N>
inline Dual<N> operator+(double x, const Dual<N>& y) {
  return y + x;
}
template <int N>
inline Dual<N> operator-(const Dual<N>& x, double y) {
  return x + -y;
}
template <int N>
inline Dual<N> operator-(double x, const Dual<N>& y) {
  return chain(x - y.a, -1.0, y);
}
template <int N>
inline Dual<N> operator*(const Dual<N>& x, double y) {
  return chain(x.a * y, y, x);
}
template <int N>
inline Dual<N> operator*(double x, const Dual<N>& y) {
  return chain(x * y.a, x, y);
}
template <int N>
inline Dual<N> operator/(const Dual<N>& x, double y) {
  return x * (1.0 / y);
}
template <int N>
inline Dual<N> operator/(double x, const Dual<N>& y) {
  const double quotient = x / y.a;
  return chain(quotient, -quotient / y.a, y);
}

template <int N>
inline Dual<N> exp(const Dual<N>& x) {
  const double value = std::exp(x.a);
  return chain(value, value, x);
}
template <int N>
inline Dual<N> log(const Dual<N>& x) {
  return chain(std::log(x.a), 1.0 / x.a, x);
}
template <int N>
inline Dual<N> sqrt(const Dual<N>& x) {
  const double root = std::sqrt(x.a);
  return chain(root, 0.5 / root, x);
}

template <int N>
inline bool operator<(const Dual<N>& x, const Dual<N>& y) {
  return x.a < y.a;
}
template <int N>
inline bool operator>(const Dual<N>& x, const Dual<N>& y) {
  return x.a > y.a;
}
template <int N>
inline bool operator>=(const Dual<N>& x, const Dual<N>& y) {
  return x.a >= y.a;
}
template <int N>
inline bool operator<=(const Dual<N>& x, const Dual<N>& y) {
  return x.a <= y.a;
}
template <int N>
inline bool operator<(const Dual<N>& x, double y) {
  return x.a < y;
}
template <int N>
inline bool operator>(const Dual<N>& x, double y) {
  return x.a > y;
}
template <int N>
inline bool operator<=(const Dual<N>& x, double y) {
  return x.a <= y;
}
template <int N>
inline bool operator>=(const Dual<N>& x, double y) {
  return x.a >= y;
}

}  // namespace fitting
