#include "fitting/model/kernel/constants.hpp"

namespace fitting::kernel {
namespace {

template <int N>
void make_chamber(Chamber<N>& out, const Number<N>& start_m3, const Number<N>& per_m,
                  const Wall<Number<N>>& wall, const Number<N>& mass_kg, double wall_K,
                  const Slopes<N>& d_zero) {
  out.start_m3 = value_of(start_m3);
  out.per_m = value_of(per_m);
  out.area_m2 = -out.per_m;
  out.d_start = slopes_of(start_m3);
  out.d_per_m = slopes_of(per_m);
  add(out.d_start, times(out.per_m, d_zero));
  out.by_wall = wall.by_wall;
  const Number<N> wall_start = wall.by_wall ? wall.start_m2 + wall.per_m3 * start_m3 : 1.0;
  const Number<N> wall_per_m = wall.by_wall ? wall.per_m3 * per_m : 0.0;
  out.wall_start = value_of(wall_start);
  out.wall_per_m = value_of(wall_per_m);
  out.wall_per_m3 = wall.by_wall ? value_of(wall.per_m3) : 0.0;
  out.d_wall_start = slopes_of(wall_start);
  out.d_wall_per_m = slopes_of(wall_per_m);
  add(out.d_wall_start, times(out.wall_per_m, d_zero));
  out.slanted = any(out.d_per_m) ||
                (wall.by_wall && (any(slopes_of(wall.start_m2)) || any(slopes_of(wall.per_m3))));
  out.rate = value_of(wall.rate);
  combine(out.d_log_rate, times(1.0 / out.rate, slopes_of(wall.rate)));
  out.mass_kg = value_of(mass_kg);
  out.temperature_K = wall_K;
  combine(out.d_log_mass, times(1.0 / out.mass_kg, slopes_of(mass_kg)));
  out.d_temperature = {};
}

template <int N>
void make_forces(Constants<N>& out, const LawParameters<Number<N>>& p, const Geometry& geometry) {
  const auto take = [&](LawIndex index, double& value, Slopes<N>& slopes) {
    value = value_of(p[index]);
    slopes = slopes_of(p[index]);
  };
  take(kPreload, out.preload_N, out.d_preload);
  take(kFriction, out.friction_N, out.d_friction);
  take(kFrictionPerPressure, out.friction_per_Pa, out.d_friction_per_Pa);
  take(kPreslidingTravel, out.presliding_m, out.d_presliding);
  take(kStaticExcess, out.excess, out.d_excess);
  take(kStribeckSpeed, out.stribeck_m_s, out.d_stribeck);
  take(kBumperForce, out.bumper_N, out.d_bumper);
  take(kDamperCompression, out.compression_Ns_m, out.d_compression);
  take(kDamperRebound, out.rebound_Ns_m, out.d_rebound);
  take(kDamperGas, out.gas_rise_N, out.d_gas_rise);
  take(kCoilRate, out.coil_N_m, out.d_coil);
  take(kAddedRate, out.added_N_m, out.d_added);
  take(kAddedRateFrom, out.added_from_m, out.d_added_from);
  take(kTopOutRate, out.top_out_N_m, out.d_top_out);
  take(kTopOutTravel, out.top_out_m, out.d_top_out_travel);
  out.travel_m = geometry.travel_m;
  out.bumper_start_m = geometry.bumper_start_m;
  out.bumper_m = geometry.travel_m - geometry.bumper_start_m;
  out.has_excess = out.excess != 0.0 || any(out.d_excess);
  const auto acts = [](double value, const Slopes<N>& slopes) {
    return value != 0.0 || any(slopes);
  };
  out.by_place = acts(out.bumper_N, out.d_bumper) ||
                 acts(out.compression_Ns_m, out.d_compression) ||
                 acts(out.rebound_Ns_m, out.d_rebound) || acts(out.gas_rise_N, out.d_gas_rise);
  out.has_coil = acts(out.coil_N_m, out.d_coil) || acts(out.added_N_m, out.d_added) ||
                 acts(out.top_out_N_m, out.d_top_out);
}

}  // namespace

template <int N>
void make_constants(const SweepModel& model, const LawParameters<Number<N>>& p, double start_m,
                    Constants<N>& out) {
  const Chambers<Number<N>> chambers = make_chambers(p, model.geometry, model.at.spacers);
  const Walls<Number<N>> walls =
      make_walls(model.law, p, model.geometry, chambers, model.reference);
  const PortBand<Number<N>> band = make_band(p);
  const Masses<Number<N>> masses =
      slow_masses(p, chambers, model.at, Number<N>(start_m + p[kTravelZero]));
  out.zero_m = value_of(p[kTravelZero]);
  out.d_zero = slopes_of(p[kTravelZero]);
  out.low_m = value_of(band.low_m);
  out.high_m = value_of(band.high_m);
  out.d_low = slopes_of(band.low_m);
  out.d_high = slopes_of(band.high_m);
  out.wall_K = model.at.temperature_K;
  out.ambient_Pa = model.at.ambient_Pa;
  make_chamber<N>(out.chamber[kPositive], chambers.positive_0_m3, -chambers.piston_area_m2,
                  walls.positive, masses.positive_kg, out.wall_K, out.d_zero);
  make_chamber<N>(out.chamber[kNegative], chambers.negative_0_m3, chambers.annulus_area_m2,
                  walls.negative, masses.negative_kg, out.wall_K, out.d_zero);
  make_chamber<N>(out.chamber[kLower], chambers.lower_0_m3, -chambers.lower_area_m2, walls.lower,
                  masses.lower_kg, out.wall_K, out.d_zero);
  make_forces<N>(out, p, model.geometry);
}

template void make_constants<0>(const SweepModel&, const LawParameters<Number<0>>&, double,
                                Constants<0>&);
template void make_constants<kUsualSlopes>(const SweepModel&,
                                           const LawParameters<Number<kUsualSlopes>>&, double,
                                           Constants<kUsualSlopes>&);
template void make_constants<kMostSlopes>(const SweepModel&,
                                          const LawParameters<Number<kMostSlopes>>&, double,
                                          Constants<kMostSlopes>&);

}  // namespace fitting::kernel
