// Steps that touch the transfer port's band: cut at its edges and into pieces, as HeatLaw does,
// with the slopes of each piece worked out by hand.
#pragma once

#include <cmath>

#include "fitting/model/kernel/stretch.hpp"

namespace fitting::kernel {

// A place on the way. Its slopes are those of travel's zero, and what an edge of the band adds.
template <int N>
struct Place {
  double x_m;
  Slopes<N> d_more;
};

template <int N>
struct Piece {
  Place<N> from;
  Place<N> to;
  double span_s;
  Slopes<N> d_span;
  bool at_edge;  // whether the slopes above are anything
};

SPRINGWRIGHT_LANE double mean_kept(double e, double h) {
  return h < kSeriesBelow ? 1.0 - 0.5 * h * (1.0 - h / 3.0) : (1.0 - e) / h;
}
SPRINGWRIGHT_LANE double mean_kept_slope(double e, double k, double h) {
  return h < kSeriesBelow ? h / 3.0 - 0.5 - 0.125 * h * h : (e - k) / h;
}

// Of one chamber, before and after a piece of the way.
template <int N>
struct Sealed {
  double from_m3, to_m3;
  double before, after;  // energies over the heat at constant volume, kg K
  double left;           // of enthalpy that passed evenly, HeatLaw::enthalpy_left
  Slopes<N> d_from, d_to, d_before, d_after, d_left;
};

template <int N>
SPRINGWRIGHT_LANE void volume_slopes(const Chamber<N>& c, const Place<N>& at, bool at_edge,
                                     Slopes<N>& out) {
  combine(out, times(1.0, c.d_start));
  if (c.slanted) add(out, times(at.x_m, c.d_per_m));
  if (at_edge) add(out, times(c.per_m, at.d_more));
}

// Moves one chamber's gas over a piece, sealed.
template <int N>
SPRINGWRIGHT_LANE void seal(Chamber<N>& c, const Piece<N>& piece, double wall_K, Sealed<N>& out) {
  out.from_m3 = c.volume_m3(piece.from.x_m);
  out.to_m3 = c.volume_m3(piece.to.x_m);
  const double mid_m = 0.5 * (piece.from.x_m + piece.to.x_m);
  const double wall = c.wall(mid_m);
  const double pace = c.pace() * wall;
  const double h = piece.span_s * pace;
  const double e = std::exp(-h);
  const double k = mean_kept(e, h);
  const double k_by_h = mean_kept_slope(e, k, h);
  const double r = std::exp(kAdiabatic * std::log(out.from_m3 / out.to_m3));
  const double before_K = c.temperature_K;
  c.temperature_K = before_K * r * e + wall_K * (1.0 - k + r * (k - e));
  out.before = c.mass_kg * before_K;
  out.after = c.mass_kg * c.temperature_K;
  constexpr double kPassed = 1.0 - 1.0 / kAirHeatRatio;
  out.left = 1.0 - kPassed * (1.0 - k);
  if constexpr (N > 0) {
    volume_slopes(c, piece.from, piece.at_edge, out.d_from);
    volume_slopes(c, piece.to, piece.at_edge, out.d_to);
    // Of h.
    Slopes<N> d_h;
    combine(d_h, times(h, c.d_log_rate), times(c.by_wall ? -h : 0.0, c.d_log_mass),
            times(0.5 * h / wall * c.wall_per_m3, out.d_from),
            times(0.5 * h / wall * c.wall_per_m3, out.d_to));
    if (c.slanted) {
      // Of the wall at a given volume.
      add(d_h, times(h / wall, c.d_wall_start), times(h / wall * mid_m, c.d_wall_per_m),
          times(-h / wall * c.wall_per_m3, c.d_start),
          times(-h / wall * c.wall_per_m3 * mid_m, c.d_per_m));
    }
    if (piece.at_edge) add(d_h, times(pace, piece.d_span));
    const double by_log_r = kAdiabatic * r * (before_K * e + wall_K * (k - e));
    const double by_h = wall_K * (r * (k_by_h + e) - k_by_h) - before_K * r * e;
    combine(out.d_before, times(c.mass_kg, c.d_temperature), times(out.before, c.d_log_mass));
    combine(c.d_temperature, times(r * e, c.d_temperature), times(by_h, d_h),
            times(by_log_r / out.from_m3, out.d_from), times(-by_log_r / out.to_m3, out.d_to));
    combine(out.d_after, times(c.mass_kg, c.d_temperature), times(out.after, c.d_log_mass));
    combine(out.d_left, times(kPassed * k_by_h, d_h));
  }
}

// HeatLaw::imbalance_J over the heat at constant volume, and its slopes.
template <int N>
SPRINGWRIGHT_LANE double imbalance(const Sealed<N>& p, const Sealed<N>& n, double p_energy,
                                   const Slopes<N>& p_slopes, double n_energy,
                                   const Slopes<N>& n_slopes, double p_m3, const Slopes<N>& d_p_m3,
                                   double n_m3, const Slopes<N>& d_n_m3, Slopes<N>& d_out) {
  const double per = 1.0 / (p_m3 * n.left + n_m3 * p.left);
  const double out = (p_energy * n_m3 - n_energy * p_m3) * per;
  combine(d_out, times(n_m3 * per, p_slopes), times(-p_m3 * per, n_slopes),
          times((p_energy - out * p.left) * per, d_n_m3),
          times(-(n_energy + out * n.left) * per, d_p_m3), times(-out * p_m3 * per, n.d_left),
          times(-out * n_m3 * per, p.d_left));
  return out;
}

// Lets mass and enthalpy through, after the piece was gone sealed.
template <int N>
SPRINGWRIGHT_LANE void equalise(Constants<N>& law, const Piece<N>& piece, const Sealed<N>& p,
                                const Sealed<N>& n) {
  const bool forward = piece.to.x_m >= piece.from.x_m;
  const double opening =
      std::abs(piece.to.x_m - piece.from.x_m) / kPortOpening_m + piece.span_s / kPortTime_s;
  const double e = std::exp(-opening);
  const double k = mean_kept(e, opening);
  Slopes<N> d_first, d_last;
  const double first = imbalance(p, n, p.before, p.d_before, n.before, n.d_before, p.from_m3,
                                 p.d_from, n.from_m3, n.d_from, d_first);
  const double last = imbalance(p, n, p.after, p.d_after, n.after, n.d_after, p.to_m3, p.d_to,
                                n.to_m3, n.d_to, d_last);
  const double passed = first * (k - e) + last * (1.0 - k);
  Slopes<N> d_passed;
  combine(d_passed, times(k - e, d_first), times(1.0 - k, d_last));
  if (piece.at_edge) {
    const double k_by = mean_kept_slope(e, k, opening);
    const double by_opening = first * (k_by + e) - last * k_by;
    const double sign = forward ? 1.0 : -1.0;
    add(d_passed, times(by_opening * sign / kPortOpening_m, piece.to.d_more),
        times(-by_opening * sign / kPortOpening_m, piece.from.d_more),
        times(by_opening / kPortTime_s, piece.d_span));
  }
  // The chamber that gives.
  const double sign = passed > 0.0 ? 1.0 : -1.0;
  const Sealed<N>& giver = passed > 0.0 ? p : n;
  Chamber<N>& gives = passed > 0.0 ? law.chamber[kPositive] : law.chamber[kNegative];
  Chamber<N>& takes = passed > 0.0 ? law.chamber[kNegative] : law.chamber[kPositive];
  const double share = sign * passed / giver.after;
  const double rest = std::exp(std::log(1.0 - share) / kAirHeatRatio);
  const double flow_kg = gives.mass_kg * (1.0 - rest);
  Slopes<N> d_flow;
  const double by_share = gives.mass_kg * rest / (kAirHeatRatio * (1.0 - share)) / giver.after;
  combine(d_flow, times(flow_kg, gives.d_log_mass), times(sign * by_share, d_passed),
          times(-share * by_share, giver.d_after));
  const auto change = [&](Chamber<N>& c, double flow, const Sealed<N>& sealed, double energy_sign) {
    const double mass_kg = c.mass_kg + flow;
    const double per_kg = 1.0 / mass_kg;
    combine(c.d_log_mass, times(c.mass_kg * per_kg, c.d_log_mass),
            times((flow > 0.0 ? 1.0 : -1.0) * per_kg, d_flow));
    c.mass_kg = mass_kg;
    c.temperature_K = (sealed.after + energy_sign * passed * sealed.left) * per_kg;
    combine(c.d_temperature, times(per_kg, sealed.d_after),
            times(energy_sign * sealed.left * per_kg, d_passed),
            times(energy_sign * passed * per_kg, sealed.d_left),
            times(-c.temperature_K, c.d_log_mass));
  };
  change(gives, -flow_kg, giver, -sign);
  change(takes, flow_kg, passed > 0.0 ? n : p, sign);
}

template <int N>
SPRINGWRIGHT_LANE void move(Constants<N>& law, const Piece<N>& piece, bool joined) {
  Sealed<N> sealed[kChambers];
#pragma GCC unroll 1
  for (int c = 0; c < kChambers; ++c) seal(law.chamber[c], piece, law.wall_K, sealed[c]);
  if (joined) equalise(law, piece, sealed[kPositive], sealed[kNegative]);
}

}  // namespace fitting::kernel
