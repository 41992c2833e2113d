// A stretch of steps between two passings of the port: masses stay, so that all that a step does to
// the gas is a product and a sum,
//
//   T' = a T + b T_w      a = r e, b = 1 - k + r (k - e)
//   e = exp(-h), k = (1 - e)/h, r = (V/V')^(gamma - 1), h = dt/tau
//
// with a and b known before any temperature is. They are worked out for many steps side by side;
// what is left to go step by step are a few products, for the values and for each slope.
#pragma once

#include <algorithm>

#include "fitting/model/heat_track.hpp"
#include "fitting/model/kernel/constants.hpp"

namespace fitting::kernel {

inline constexpr int kStretch = 64;  // most steps at once
inline constexpr int kPlaces = kStretch + 16;
inline constexpr double kAdiabatic = kAirHeatRatio - 1.0;
inline constexpr double kSeriesBelow = 1e-3;  // of h, as the law does

// By place: 0 is where the stretch begins, i + 1 where step i ends.
struct alignas(64) GasTable {
  double per_m3[kPlaces];  // 1/V
  double temperature_K[kPlaces];
  double pressure_Pa[kPlaces];
  // By step.
  double a[kPlaces];
  double b[kPlaces];
  double h[kPlaces];
  double b_by_r[kPlaces];  // r db/dr
  double b_by_h[kPlaces];
  double per_wall[kPlaces];
  // Slopes of the temperature: by the temperature before it is a.
  double by_log_rate[kPlaces];
  double by_start[kPlaces];
  double by_per_m[kPlaces];  // the rest only for slanted chambers
  double by_wall_start[kPlaces];
  double by_wall_per_m[kPlaces];
  // Slopes of the force.
  double force_by_temperature[kPlaces];
  double force_by_log_mass[kPlaces];
  double force_by_start[kPlaces];
  double force_by_per_m[kPlaces];
};

struct alignas(64) ForceTable {
  double travel_m[kPlaces];   // true, by place
  double sliding_N[kPlaces];  // kinetic friction before the Stribeck factor, by place
  double sense[kPlaces];  // direction times Stribeck factor, by place: of the step that led there
  double sense_by_excess[kPlaces];
  double sense_by_stribeck[kPlaces];
  // By step.
  double kept[kPlaces];      // exp(-length/delta)
  double turned_N[kPlaces];  // friction's distance from sliding when the step begins
  double force_N[kPlaces];
};

struct Tables {
  GasTable gas[kChambers];
  ForceTable force;
};

using lanes::Eight;

template <class V>
SPRINGWRIGHT_LANE V safe_exp(V x) {
  const V least = lanes::all<V>(-700.0);
  return lanes::exp<V>(x > least ? x : least);
}

// What a step does to one chamber, from V, 1/V', h and 1/max(h, kSeriesBelow).
SPRINGWRIGHT_LANE void put_step(GasTable& t, int i, Eight log_ratio, Eight h, Eight per_h) {
  const Eight e = safe_exp<Eight>(-h);
  const Eight r = lanes::exp<Eight>(kAdiabatic * log_ratio);
  const auto small = h < lanes::all<Eight>(kSeriesBelow);
  const Eight k = small ? 1.0 - 0.5 * h * (1.0 - h * (1.0 / 3.0)) : (1.0 - e) * per_h;
  const Eight k_by_h = small ? h * (1.0 / 3.0) - 0.5 - 0.125 * h * h : (e - k) * per_h;
  const Eight b_by_r = r * (k - e);
  lanes::store(t.a + i, r * e);
  lanes::store(t.b + i, 1.0 - k + b_by_r);
  lanes::store(t.h + i, h);
  lanes::store(t.b_by_r + i, b_by_r);
  lanes::store(t.b_by_h + i, r * (k_by_h + e) - k_by_h);
}

template <int N>
SPRINGWRIGHT_LANE void put_steps(const Constants<N>& law, const HeatTrack& track, int first,
                                 int steps, Tables& t) {
  const Chamber<N>& p = law.chamber[kPositive];
  const Chamber<N>& n = law.chamber[kNegative];
  const Chamber<N>& l = law.chamber[kLower];
  const double pace_p = p.pace();
  const double pace_n = n.pace();
  const double pace_l = l.pace();
  const Eight least_h = lanes::all<Eight>(kSeriesBelow);
  for (int i = 0; i < steps; i += 8) {
    const Eight x0 = lanes::load<Eight>(&track.travel_m[first + i]) + law.zero_m;
    const Eight x1 = lanes::load<Eight>(&track.travel_m[first + i + 1]) + law.zero_m;
    const Eight span_s = lanes::load<Eight>(&track.span_s[first + i + 1]);
    const Eight mid = 0.5 * (x0 + x1);
    const auto [per_p, per_n, per_l] = lanes::reciprocals<Eight>(
        p.start_m3 + p.per_m * x1, n.start_m3 + n.per_m * x1, l.start_m3 + l.per_m * x1);
    const auto [log_p, log_n, log_l] = lanes::logarithms<Eight>(
        (p.start_m3 + p.per_m * x0) * per_p, (n.start_m3 + n.per_m * x0) * per_n,
        (l.start_m3 + l.per_m * x0) * per_l);
    const Eight wall_p = p.wall_start + p.wall_per_m * mid;
    const Eight wall_n = n.wall_start + n.wall_per_m * mid;
    const Eight wall_l = l.wall_start + l.wall_per_m * mid;
    const Eight h_p = span_s * pace_p * wall_p;
    const Eight h_n = span_s * pace_n * wall_n;
    const Eight h_l = span_s * pace_l * wall_l;
    const auto [per_hp, per_hn, per_hl] =
        lanes::reciprocals<Eight>(h_p > least_h ? h_p : least_h, h_n > least_h ? h_n : least_h,
                                  h_l > least_h ? h_l : least_h);
    put_step(t.gas[kPositive], i, log_p, h_p, per_hp);
    put_step(t.gas[kNegative], i, log_n, h_n, per_hn);
    put_step(t.gas[kLower], i, log_l, h_l, per_hl);
    lanes::store(t.gas[kPositive].per_m3 + i + 1, per_p);
    lanes::store(t.gas[kNegative].per_m3 + i + 1, per_n);
    lanes::store(t.gas[kLower].per_m3 + i + 1, per_l);
    if constexpr (N > 0) {
      const auto [per_wp, per_wn, per_wl] = lanes::reciprocals<Eight>(wall_p, wall_n, wall_l);
      lanes::store(t.gas[kPositive].per_wall + i, per_wp);
      lanes::store(t.gas[kNegative].per_wall + i, per_wn);
      lanes::store(t.gas[kLower].per_wall + i, per_wl);
    }
  }
}

template <int N>
SPRINGWRIGHT_LANE void take_steps(Constants<N>& law, int steps, Tables& t) {
  double p = law.chamber[kPositive].temperature_K;
  double n = law.chamber[kNegative].temperature_K;
  double l = law.chamber[kLower].temperature_K;
  for (int i = 0; i < steps; ++i) {
    p = t.gas[kPositive].a[i] * p + t.gas[kPositive].b[i] * law.wall_K;
    n = t.gas[kNegative].a[i] * n + t.gas[kNegative].b[i] * law.wall_K;
    l = t.gas[kLower].a[i] * l + t.gas[kLower].b[i] * law.wall_K;
    t.gas[kPositive].temperature_K[i + 1] = p;
    t.gas[kNegative].temperature_K[i + 1] = n;
    t.gas[kLower].temperature_K[i + 1] = l;
  }
  law.chamber[kPositive].temperature_K = p;
  law.chamber[kNegative].temperature_K = n;
  law.chamber[kLower].temperature_K = l;
}

// The gas where a stretch begins, and where a single step ends.
template <int N>
SPRINGWRIGHT_LANE void put_start(const Chamber<N>& chamber, double x_m, GasTable& t) {
  t.per_m3[0] = 1.0 / chamber.volume_m3(x_m);
  t.temperature_K[0] = chamber.temperature_K;
  t.pressure_Pa[0] = chamber.mass_kg * kAirGasConstant_J_kgK * chamber.temperature_K * t.per_m3[0];
}
template <int N>
SPRINGWRIGHT_LANE void put_end(const Chamber<N>& chamber, double x_m, GasTable& t) {
  t.per_m3[1] = 1.0 / chamber.volume_m3(x_m);
  t.temperature_K[1] = chamber.temperature_K;
}

// Slopes of the temperatures, once these are known.
template <int N>
SPRINGWRIGHT_LANE void put_temperature_slopes(const Chamber<N>& chamber, double wall_K, int steps,
                                              const ForceTable& force, GasTable& t) {
  for (int i = 0; i < steps; i += 8) {
    const Eight before_K = lanes::load<Eight>(t.temperature_K + i);
    const Eight h = lanes::load<Eight>(t.h + i);
    const Eight warmed = lanes::load<Eight>(t.a + i) * before_K;
    const Eight by_log_r = kAdiabatic * (warmed + wall_K * lanes::load<Eight>(t.b_by_r + i));
    const Eight by_log_h = h * (wall_K * lanes::load<Eight>(t.b_by_h + i) - warmed);
    const Eight per_from = lanes::load<Eight>(t.per_m3 + i);
    const Eight per_to = lanes::load<Eight>(t.per_m3 + i + 1);
    const Eight by_wall = by_log_h * lanes::load<Eight>(t.per_wall + i);
    const Eight by_start = by_log_r * (per_from - per_to);
    lanes::store(t.by_log_rate + i, by_log_h);
    if (!chamber.slanted) {
      lanes::store(t.by_start + i, by_start + by_wall * chamber.wall_per_m3);
      continue;
    }
    const Eight x0 = lanes::load<Eight>(force.travel_m + i);
    const Eight x1 = lanes::load<Eight>(force.travel_m + i + 1);
    lanes::store(t.by_start + i, by_start);
    lanes::store(t.by_per_m + i, by_log_r * (per_from * x0 - per_to * x1));
    lanes::store(t.by_wall_start + i, by_wall);
    lanes::store(t.by_wall_per_m + i, by_wall * (0.5 * (x0 + x1)));
  }
}

// One step of a chamber's slopes. change: of log_rate less log_mass, where the mass counts.
template <int N>
SPRINGWRIGHT_LANE void step_slopes(Chamber<N>& c, const GasTable& t, int i,
                                   const Slopes<N>& change) {
  if (!c.slanted) {
    combine(c.d_temperature, times(t.a[i], c.d_temperature), times(t.by_log_rate[i], change),
            times(t.by_start[i], c.d_start));
    return;
  }
  combine(c.d_temperature, times(t.a[i], c.d_temperature), times(t.by_log_rate[i], change),
          times(t.by_start[i], c.d_start), times(t.by_per_m[i], c.d_per_m),
          times(t.by_wall_start[i], c.d_wall_start), times(t.by_wall_per_m[i], c.d_wall_per_m));
}

}  // namespace fitting::kernel
