// The heat law's parameters made into what the kernel's steps need of them, with their slopes, and
// the gas as it moves along.
//
//   volume  V = V_0 + B x          wall  W = W_0 + W_1 x         x: true travel
//
// The slopes of V are dV_0 + x dB: travel's zero, a parameter too, is taken into dV_0.
#pragma once

#include <cmath>

#include "fitting/model/fitted_model.hpp"
#include "fitting/model/follow.hpp"
#include "fitting/model/kernel/slopes.hpp"

namespace fitting::kernel {

// How many columns the kernel comes in.
inline constexpr int kUsualSlopes = 16;
inline constexpr int kMostSlopes = 24;

enum ChamberIndex { kPositive, kNegative, kLower, kChambers };

template <int N>
struct Chamber {
  double start_m3;  // V_0
  double per_m;     // B, signed
  double area_m2;   // of its force, -B
  double wall_start;
  double wall_per_m;
  double wall_per_m3;
  double rate;
  bool by_wall;
  // Whether more than V_0 and the rate have slopes.
  bool slanted;
  Slopes<N> d_start;
  Slopes<N> d_per_m;
  Slopes<N> d_wall_start;
  Slopes<N> d_wall_per_m;
  Slopes<N> d_log_rate;
  // The gas.
  double mass_kg;
  double temperature_K;
  Slopes<N> d_log_mass;
  Slopes<N> d_temperature;

  double volume_m3(double x_m) const { return start_m3 + per_m * x_m; }
  double wall(double x_m) const { return wall_start + wall_per_m * x_m; }
  // Decay of one second at a wall of one.
  double pace() const { return by_wall ? rate / mass_kg : rate; }
};

template <int N>
struct Constants {
  Chamber<N> chamber[kChambers];
  double zero_m;
  double low_m;  // the port's band, true travel
  double high_m;
  double wall_K;
  double ambient_Pa;
  Slopes<N> d_zero;
  Slopes<N> d_low;
  Slopes<N> d_high;

  double preload_N, friction_N, friction_per_Pa, presliding_m, excess, stribeck_m_s, bumper_N,
      compression_Ns_m, rebound_Ns_m, gas_rise_N;
  Slopes<N> d_preload, d_friction, d_friction_per_Pa, d_presliding, d_excess, d_stribeck, d_bumper,
      d_compression, d_rebound, d_gas_rise;
  double coil_N_m, added_N_m, added_from_m, top_out_N_m, top_out_m;
  Slopes<N> d_coil, d_added, d_added_from, d_top_out, d_top_out_travel;
  double travel_m;
  double bumper_start_m;
  double bumper_m;
  bool has_excess;  // or asks for its slope
  bool by_place;    // a damper, a damper's gas or a bumper acts, or travel's zero is asked for
  bool has_coil;    // likewise
};

// At rest with the room where the record starts, after slow cycles. Parameters carry their columns.
template <int N>
void make_constants(const SweepModel& model, const LawParameters<Number<N>>& p, double start_m,
                    Constants<N>& out);

}  // namespace fitting::kernel
