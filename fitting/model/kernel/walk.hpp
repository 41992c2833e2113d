// The walk along a track: stretches between passings of the port, and the steps through it.
#pragma once

#include "fitting/model/kernel/forces.hpp"
#include "fitting/model/kernel/port.hpp"

namespace fitting::kernel {

// What came of a stretch: forces by step, and rows of N slopes.
struct Stretch {
  int first = 0;  // step of the track
  int steps = 0;
  const double* force_N = nullptr;
  const double* slopes = nullptr;
};

template <int N>
class Walk {
 public:
  Walk(const SweepModel& model, const LawParameters<Number<N>>& p, const HeatTrack& track)
      : track_(track) {
    make_constants<N>(model, p, track.travel_m[0], law_);
  }

  // take(stretch) for one after another.
  template <class Take>
  void run(Take take) {
    int at = 0;
    while (at < track_.steps) {
      const int most = std::min(kStretch, track_.steps - at);
      int steps = 0;
      while (steps < most && !touches_port(at + steps)) ++steps;
      const bool sealed = steps > 0;
      if (!sealed) steps = 1;
      pass(at, steps, sealed);
      take(Stretch{at, steps, tables_.force.force_N, rows_});
      at += steps;
    }
  }

 private:
  double place_m(int place) const {
    return track_.travel_m[static_cast<std::size_t>(place)] + law_.zero_m;
  }

  bool touches_port(int step) const {
    const double from = place_m(step);
    const double to = place_m(step + 1);
    return std::max(from, to) > law_.low_m && std::min(from, to) < law_.high_m;
  }

  void pass(int first, int steps, bool sealed) {
    Tables& t = tables_;
    put_motion(law_, track_, first, steps, turning_, t.force);
    for (int c = 0; c < kChambers; ++c) put_start(law_.chamber[c], t.force.travel_m[0], t.gas[c]);
    t.force.sliding_N[0] = sliding_N(law_, t.gas[kPositive].pressure_Pa[0]);
    if (sealed) {
      put_steps(law_, track_, first, steps, t);
      take_steps(law_, steps, t);
    } else {
      if constexpr (N > 0) turn_slopes(law_, t, 0, turning_.d_turned);
      pass_port(first);
    }
    put_forces(law_, track_, first, steps, t);
    add_turning(steps, turning_.turned_N, t.force);
    if constexpr (N > 0) {
      take_slopes(first, steps, sealed);
    }
    turning_.sense = t.force.sense[steps];
    turning_.sense_by_excess = t.force.sense_by_excess[steps];
    turning_.sense_by_stribeck = t.force.sense_by_stribeck[steps];
  }

  void take_slopes(int first, int steps, bool sealed) {
    Tables& t = tables_;
    Slopes<N> change[kChambers];
#pragma GCC unroll 1
    for (int c = 0; sealed && c < kChambers; ++c) {
      const Chamber<N>& chamber = law_.chamber[c];
      put_temperature_slopes(chamber, law_.wall_K, steps, t.force, t.gas[c]);
      combine(change[c], times(1.0, chamber.d_log_rate),
              times(chamber.by_wall ? -1.0 : 0.0, chamber.d_log_mass));
    }
    for (int i = 0; i < steps; ++i) {
      if (sealed) {
        turn_slopes(law_, t, i, turning_.d_turned);
        for (int c = 0; c < kChambers; ++c) step_slopes(law_.chamber[c], t.gas[c], i, change[c]);
      }
      const auto step = static_cast<std::size_t>(first + i + 1);
      Slopes<N> row;
      force_slopes(law_, t, i, track_.length_m[step], track_.speed_m_s[step], turning_.d_turned,
                   row);
      for (int part = 0; part < Slopes<N>::kParts; ++part) {
        lanes::store(rows_ + i * N + 8 * part, row.v[part]);
      }
    }
  }

  // Part of a step: outside the band or inside.
  struct Leg {
    Place<N> to;
    int pieces;
    bool joined;
  };

  // One step that touches the band, as HeatLaw::advance.
  void pass_port(int step) {
    Place<N> from{place_m(step), {}};
    const Place<N> to{place_m(step + 1), {}};
    const double span_s = track_.span_s[static_cast<std::size_t>(step) + 1];
    const double length_m = std::abs(to.x_m - from.x_m);
    const double sign = to.x_m >= from.x_m ? 1.0 : -1.0;
    Place<N> low{law_.low_m, law_.d_low};
    Place<N> high{law_.high_m, law_.d_high};
    add(low.d_more, times(-1.0, law_.d_zero));
    add(high.d_more, times(-1.0, law_.d_zero));
    const Place<N>& first = sign > 0.0 ? low : high;
    const Place<N>& second = sign > 0.0 ? high : low;
    const bool enters = sign * (first.x_m - from.x_m) > 0.0;
    const bool leaves = sign * (to.x_m - second.x_m) > 0.0;
    Leg legs[3];
    int count = 0;
    if (enters) legs[count++] = {first, 1, false};
    legs[count++] = {leaves ? second : to, port_pieces(length_m), true};
    if (leaves) legs[count++] = {to, 1, false};
    const bool at_edge = enters || leaves;
    const double pace_s_m = length_m > 0.0 ? span_s / length_m : 0.0;
#pragma GCC unroll 1
    for (int leg = 0; leg < count; ++leg) {
      go(from, legs[leg], sign, pace_s_m, length_m > 0.0 ? 0.0 : span_s, at_edge);
      from = legs[leg].to;
    }
    for (int c = 0; c < kChambers; ++c) put_end(law_.chamber[c], to.x_m, tables_.gas[c]);
  }

  void go(const Place<N>& from, const Leg& leg, double sign, double pace_s_m, double rest_s,
          bool at_edge) {
    const Place<N>& to = leg.to;
    Piece<N> piece{from, from, 0.0, {}, at_edge};
#pragma GCC unroll 1
    for (int i = 1; i <= leg.pieces; ++i) {
      const double share = double(i) / leg.pieces;
      piece.from = piece.to;
      piece.to.x_m = from.x_m + (to.x_m - from.x_m) * share;
      piece.span_s = pace_s_m * std::abs(piece.to.x_m - piece.from.x_m) + rest_s;
      if (at_edge) {
        combine(piece.to.d_more, times(1.0 - share, from.d_more), times(share, to.d_more));
        combine(piece.d_span, times(sign * pace_s_m, piece.to.d_more),
                times(-sign * pace_s_m, piece.from.d_more));
      }
      move(law_, piece, leg.joined);
    }
  }

  const HeatTrack& track_;
  Constants<N> law_;
  Turning<N> turning_;
  Tables tables_;
  alignas(64) double rows_[kStretch * (N > 0 ? N : 1)];
};

}  // namespace fitting::kernel
