// Forces along a stretch, once the gas is known: of the chambers, friction as it turns round, and
// what hangs on the place and the speed alone.
#pragma once

#include "fitting/model/kernel/stretch.hpp"

namespace fitting::kernel {

// Friction on the way: its distance from sliding.
template <int N>
struct Turning {
  double turned_N = 0.0;
  Slopes<N> d_turned;
  // Of the step before.
  double sense = 0.0;
  double sense_by_excess = 0.0;
  double sense_by_stribeck = 0.0;
};

template <int N>
SPRINGWRIGHT_LANE double sliding_N(const Constants<N>& law, double positive_Pa) {
  return law.friction_N + law.friction_per_Pa * (positive_Pa - law.ambient_Pa);
}

// Travel, and friction's sense and fading by step.
template <int N>
SPRINGWRIGHT_LANE void put_motion(const Constants<N>& law, const HeatTrack& track, int first,
                                  int steps, const Turning<N>& turning, ForceTable& t) {
  t.travel_m[0] = track.travel_m[first] + law.zero_m;
  t.sense[0] = turning.sense;
  t.sense_by_excess[0] = turning.sense_by_excess;
  t.sense_by_stribeck[0] = turning.sense_by_stribeck;
  const double per_presliding = -1.0 / law.presliding_m;
  const double per_stribeck = 1.0 / law.stribeck_m_s;
  for (int i = 0; i < steps; i += 8) {
    const std::size_t step = static_cast<std::size_t>(first + i + 1);
    lanes::store(t.travel_m + i + 1, lanes::load<Eight>(&track.travel_m[step]) + law.zero_m);
    const Eight direction = lanes::load<Eight>(&track.direction[step]);
    lanes::store(t.kept + i,
                 safe_exp<Eight>(lanes::load<Eight>(&track.length_m[step]) * per_presliding));
    if (!law.has_excess) {
      lanes::store(t.sense + i + 1, direction);
      continue;
    }
    const Eight share = lanes::load<Eight>(&track.speed_m_s[step]) * per_stribeck;
    const Eight still = direction * safe_exp<Eight>(-share * share);
    lanes::store(t.sense + i + 1, direction + law.excess * still);
    lanes::store(t.sense_by_excess + i + 1, still);
    lanes::store(t.sense_by_stribeck + i + 1,
                 (2.0 * law.excess * per_stribeck) * share * share * still);
  }
}

template <int N>
SPRINGWRIGHT_LANE void put_gas_slopes(const Chamber<N>& c, int i, Eight area_m2, Eight pressure_Pa,
                                      Eight gauge_Pa, Eight x, GasTable& t) {
  const Eight per_m3 = lanes::load<Eight>(t.per_m3 + i + 1);
  const Eight by_log = area_m2 * pressure_Pa;
  lanes::store(t.force_by_temperature + i, area_m2 * per_m3 * (c.mass_kg * kAirGasConstant_J_kgK));
  lanes::store(t.force_by_log_mass + i, by_log);
  lanes::store(t.force_by_start + i, -by_log * per_m3);
  if (c.slanted) lanes::store(t.force_by_per_m + i, -by_log * per_m3 * x - gauge_Pa);
}

// The coil and its top-out spring, as coil_force_N and top_out_force_N.
template <int N>
SPRINGWRIGHT_LANE double coil_N(const Constants<N>& law, double x_m) {
  return law.coil_N_m * x_m + law.added_N_m * rounded_ramp_m(x_m - law.added_from_m) -
         law.top_out_N_m * rounded_ramp_m(law.top_out_m - x_m);
}

template <int N>
SPRINGWRIGHT_LANE void add_coil_slopes(const Constants<N>& law, double x_m, Slopes<N>& out) {
  const double added_m = x_m - law.added_from_m;
  const double top_m = law.top_out_m - x_m;
  // dr/du of the rounded ramp.
  const auto share = [](double u_m) {
    return 0.5 * (1.0 + u_m / std::sqrt(u_m * u_m + kCornerWidth_m * kCornerWidth_m));
  };
  const double added_N_m = law.added_N_m * share(added_m);
  const double top_N_m = law.top_out_N_m * share(top_m);
  add(out, times(x_m, law.d_coil), times(rounded_ramp_m(added_m), law.d_added),
      times(-added_N_m, law.d_added_from), times(-rounded_ramp_m(top_m), law.d_top_out),
      times(-top_N_m, law.d_top_out_travel), times(law.coil_N_m + added_N_m + top_N_m, law.d_zero));
}

// The chambers' forces, and all else that needs no step before it.
template <int N>
SPRINGWRIGHT_LANE void put_forces(const Constants<N>& law, const HeatTrack& track, int first,
                                  int steps, Tables& t) {
  for (int i = 0; i < steps; i += 8) {
    const Eight x = lanes::load<Eight>(t.force.travel_m + i + 1);
    const Eight sense = lanes::load<Eight>(t.force.sense + i + 1);
    const auto pressure = [&](const Chamber<N>& c, GasTable& g) {
      const Eight out = (c.mass_kg * kAirGasConstant_J_kgK) *
                        lanes::load<Eight>(g.temperature_K + i + 1) *
                        lanes::load<Eight>(g.per_m3 + i + 1);
      lanes::store(g.pressure_Pa + i + 1, out);
      return out;
    };
    const Eight p = pressure(law.chamber[kPositive], t.gas[kPositive]);
    const Eight n = pressure(law.chamber[kNegative], t.gas[kNegative]);
    const Eight l = pressure(law.chamber[kLower], t.gas[kLower]);
    const Eight gauge = p - law.ambient_Pa;
    const Eight sliding = law.friction_N + law.friction_per_Pa * gauge;
    lanes::store(t.force.sliding_N + i + 1, sliding);
    Eight force = law.preload_N + law.chamber[kPositive].area_m2 * gauge +
                  law.chamber[kNegative].area_m2 * (n - law.ambient_Pa) +
                  law.chamber[kLower].area_m2 * (l - law.ambient_Pa) + sense * sliding;
    if (law.by_place) {
      const Eight speed =
          lanes::load<Eight>(&track.speed_m_s[static_cast<std::size_t>(first + i + 1)]);
      const Eight damper = speed >= lanes::all<Eight>(0.0) ? lanes::all<Eight>(law.compression_Ns_m)
                                                           : lanes::all<Eight>(law.rebound_Ns_m);
      force += damper * speed + (law.gas_rise_N / law.travel_m) * x;
      if (law.bumper_m > 0.0) {
        const Eight u = lanes::larger<Eight>((x - law.bumper_start_m) / law.bumper_m, 0.0);
        force += law.bumper_N * u * u;
      }
    }
    if (law.has_coil) {
      for (int k = 0; k < 8; ++k) force[k] += coil_N(law, x[k]);
    }
    lanes::store(t.force.force_N + i, force);
    if constexpr (N > 0) {
      put_gas_slopes(law.chamber[kPositive], i,
                     law.chamber[kPositive].area_m2 + law.friction_per_Pa * sense, p, gauge, x,
                     t.gas[kPositive]);
      put_gas_slopes(law.chamber[kNegative], i, lanes::all<Eight>(law.chamber[kNegative].area_m2),
                     n, n - law.ambient_Pa, x, t.gas[kNegative]);
      put_gas_slopes(law.chamber[kLower], i, lanes::all<Eight>(law.chamber[kLower].area_m2), l,
                     l - law.ambient_Pa, x, t.gas[kLower]);
    }
  }
}

// Friction's own part, step by step, added to the forces.
SPRINGWRIGHT_LANE void add_turning(int steps, double& turned_N, ForceTable& t) {
  for (int i = 0; i < steps; ++i) {
    t.turned_N[i] = turned_N + (t.sense[i] - t.sense[i + 1]) * t.sliding_N[i];
    turned_N = t.kept[i] * t.turned_N[i];
    t.force_N[i] += turned_N;
  }
}

// Where friction changes its sense, or its factor, it starts from what it was.
template <int N>
SPRINGWRIGHT_LANE void turn_slopes(const Constants<N>& law, const Tables& t, int i,
                                   Slopes<N>& d_turned) {
  const ForceTable& f = t.force;
  const double change = f.sense[i] - f.sense[i + 1];
  if (change == 0.0 && !law.has_excess) return;
  const Chamber<N>& c = law.chamber[kPositive];
  const double by_log = change * law.friction_per_Pa * t.gas[kPositive].pressure_Pa[i];
  const double per_m3 = t.gas[kPositive].per_m3[i];
  add(d_turned, times(change, law.d_friction),
      times(change * (t.gas[kPositive].pressure_Pa[i] - law.ambient_Pa), law.d_friction_per_Pa),
      times(by_log / t.gas[kPositive].temperature_K[i], c.d_temperature),
      times(by_log, c.d_log_mass), times(-by_log * per_m3, c.d_start),
      times(-by_log * per_m3 * f.travel_m[i], c.d_per_m));
  if (!law.has_excess) return;
  add(d_turned,
      times((f.sense_by_excess[i] - f.sense_by_excess[i + 1]) * f.sliding_N[i], law.d_excess),
      times((f.sense_by_stribeck[i] - f.sense_by_stribeck[i + 1]) * f.sliding_N[i],
            law.d_stribeck));
}

template <int N>
SPRINGWRIGHT_LANE void add_place_slopes(const Constants<N>& law, const ForceTable& f, int i,
                                        double speed_m_s, Slopes<N>& out) {
  const double x = f.travel_m[i + 1];
  const double rise = law.gas_rise_N / law.travel_m;
  add(out, times(x / law.travel_m, law.d_gas_rise), times(rise, law.d_zero),
      times(speed_m_s, speed_m_s >= 0.0 ? law.d_compression : law.d_rebound));
  if (law.bumper_m > 0.0 && x > law.bumper_start_m) {
    const double u = (x - law.bumper_start_m) / law.bumper_m;
    add(out, times(u * u, law.d_bumper), times(2.0 * law.bumper_N * u / law.bumper_m, law.d_zero));
  }
}

// The force's slopes where step i ends; the gas's are those there, friction's those before it.
template <int N>
SPRINGWRIGHT_LANE void force_slopes(const Constants<N>& law, const Tables& t, int i,
                                    double length_m, double speed_m_s, Slopes<N>& d_turned,
                                    Slopes<N>& out) {
  const ForceTable& f = t.force;
  const double kept = f.kept[i];
  combine(d_turned, times(kept, d_turned),
          times(f.turned_N[i] * kept * length_m / (law.presliding_m * law.presliding_m),
                law.d_presliding));
  const double sense = f.sense[i + 1];
  const double gauge_Pa = t.gas[kPositive].pressure_Pa[i + 1] - law.ambient_Pa;
  const auto& p = law.chamber[kPositive];
  const auto& n = law.chamber[kNegative];
  const auto& l = law.chamber[kLower];
  combine(out, times(1.0, d_turned), times(1.0, law.d_preload), times(sense, law.d_friction),
          times(sense * gauge_Pa, law.d_friction_per_Pa),
          times(t.gas[kPositive].force_by_temperature[i], p.d_temperature),
          times(t.gas[kPositive].force_by_log_mass[i], p.d_log_mass),
          times(t.gas[kPositive].force_by_start[i], p.d_start),
          times(t.gas[kNegative].force_by_temperature[i], n.d_temperature),
          times(t.gas[kNegative].force_by_log_mass[i], n.d_log_mass),
          times(t.gas[kNegative].force_by_start[i], n.d_start),
          times(t.gas[kLower].force_by_temperature[i], l.d_temperature),
          times(t.gas[kLower].force_by_log_mass[i], l.d_log_mass),
          times(t.gas[kLower].force_by_start[i], l.d_start));
  if (p.slanted) add(out, times(t.gas[kPositive].force_by_per_m[i], p.d_per_m));
  if (n.slanted) add(out, times(t.gas[kNegative].force_by_per_m[i], n.d_per_m));
  if (l.slanted) add(out, times(t.gas[kLower].force_by_per_m[i], l.d_per_m));
  if (law.has_excess) {
    add(out, times(f.sense_by_excess[i + 1] * f.sliding_N[i + 1], law.d_excess),
        times(f.sense_by_stribeck[i + 1] * f.sliding_N[i + 1], law.d_stribeck));
  }
  if (law.by_place) add_place_slopes(law, f, i, speed_m_s, out);
  if (law.has_coil) add_coil_slopes(law, f.travel_m[i + 1], out);
}

}  // namespace fitting::kernel
