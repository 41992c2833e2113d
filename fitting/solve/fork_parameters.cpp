#include "fitting/solve/fork_parameters.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fitting {
namespace {

// Assumptions where the fork file says nothing. Each is wide, and the answer names it.
constexpr double kTransferSpread_m = 3e-3;
constexpr double kBand_m = 1e-3;
constexpr double kBandSpread = 0.6;  // of the logarithm
constexpr double kThermalTime_s = 4.0;
constexpr double kThermalSpread = 1.5;      // of the logarithm
constexpr double kLowerLegTimeShare = 0.1;  // of the air chamber's
constexpr double kPresliding_m = 3e-4;
constexpr double kPreslidingSpread = 1.0;
constexpr double kVolumeSpread = 0.5;  // of the logarithm: measured with a caliper
constexpr double kUnknownVolumeSpread = 0.8;
constexpr double kPreloadSpread_N = 60.0;
constexpr double kFriction_N = 10.0;
constexpr double kFrictionSpread_N = 20.0;
constexpr double kFrictionPerPressure_N_Pa = 1e-5;
constexpr double kFrictionPerPressureSpread_N_Pa = 2e-5;
// Speeds at which friction's excess at rest has gone, and how far that is a guess.
constexpr double kStribeck_m_s = 2e-3;
constexpr double kStribeckSpread = 0.8;  // of the logarithm
constexpr double kStaticExcessStart = 0.1;
constexpr double kStaticExcessSpread = 0.3;
constexpr double kDamperSpread_Ns_m = 500.0;
// Rise of a damper's gas force over the travel that no sweep tells from the air spring. Common
// practice, no source: a rod of 10 mm against a few bar gained.
constexpr double kDamperGas_N = 3.0;
constexpr double kBumper_N = 800.0;
constexpr double kCoilSpread = 1.0;  // of the logarithm
constexpr double kStatedCoilSpread = 0.3;
constexpr double kAddedRateShare = 0.3;  // of the rate
constexpr double kTopOutRateShare = 2.0;
constexpr double kCornerSpread = 1.0;  // of the logarithm of a place along travel
constexpr double kTopOut_m = 8e-3;
// Of chambers that a kind has not: they push nothing, but a volume has to be a number.
constexpr double kNoVolume_m3 = 1e-4;
constexpr double kNoPiston_m = 30e-3;
constexpr double kNoPort_m = -1.0;
constexpr double kStartExponent = 1.12;
constexpr double kExponentSpread = 0.2;
constexpr double kStartLowerLegExponent = 1.04;
constexpr double kLowerLegExponentSpread = 0.05;
constexpr double kSpacer_m3 = 8e-6;
constexpr double kLargestExponent = 1.42;
// The open damper at the swept speed; a one-way curve holds all of the friction besides.
constexpr double kDamper_N = 1.0;
constexpr double kOneWayFriction_N = 15.0;
constexpr double kTravelRelative = 0.001;
// Deflection of a frame that nobody measured: little is left in foreign data, all of it in our own.
constexpr double kFrame_m_N = 3e-8;
constexpr double kOwnFrame_m_N = 1.5e-7;

FreeParameter logarithmic(LawIndex index, double centre_SI, double spread, double prior) {
  FreeParameter out{index};
  out.centre_SI = centre_SI;
  out.spread = spread;
  out.prior_standard_uncertainty = prior;
  return out;
}

FreeParameter linear(LawIndex index, double centre_SI, double unit_SI, double spread, double prior,
                     double low_SI, double high_SI) {
  FreeParameter out{index, Scale::linear};
  out.centre_SI = centre_SI;
  out.unit_SI = unit_SI;
  out.spread = spread;
  out.prior_standard_uncertainty = prior;
  out.low_SI = low_SI;
  out.high_SI = high_SI;
  return out;
}

FreeParameter volume(LawIndex index, const std::optional<protocol::Toleranced>& stated,
                     double assumed_m3) {
  if (!stated) return logarithmic(index, assumed_m3, 0.4, kUnknownVolumeSpread);
  FreeParameter out = logarithmic(index, stated->value, 0.35, kVolumeSpread);
  if (stated->tolerance) {
    out.prior_standard_uncertainty = *stated->tolerance / stated->value;
    out.prior_is_stated = true;
  }
  return out;
}

FreeParameter transfer(const FitInput& input) {
  const std::optional<protocol::Toleranced>& stated = input.fork.air_spring.transfer_travel_m;
  FreeParameter out = linear(kTransferTravel, kAssumedTransfer_m, 1e-3, 2.5,
                             kTransferSpread_m / 1e-3, 0.0, 0.15 * input.fork.travel_m);
  if (!stated) return out;
  out.centre_SI = std::max(stated->value, 0.5e-3);
  if (stated->tolerance) {
    out.prior_standard_uncertainty = *stated->tolerance / 1e-3;
    out.prior_is_stated = true;
  }
  return out;
}

// Ratio of a second chamber's thermal time to the positive one's under the same wall coefficient
// and pressure: as the volumes over their walls.
double time_ratio(const FitInput& input, const ParameterMap& map, GasLaw law) {
  if (law != GasLaw::wall_coefficient) return 1.0;
  const auto centre = [&](LawIndex index) {
    return map.free[static_cast<std::size_t>(map.position_of(index))].centre_SI;
  };
  const double bore_m = input.fork.air_spring.piston_diameter_m;
  const double shaft_m = input.fork.air_spring.shaft_diameter_m;
  const double area_m2 = circle_area_m2(bore_m);
  const double positive_m3 = centre(kPositiveVolume);
  const double negative_m3 = centre(kNegativeVolume);
  const double positive_wall_m2 = 2.0 * area_m2 + 4.0 * positive_m3 / bore_m;
  const double negative_wall_m2 =
      2.0 * (area_m2 - circle_area_m2(shaft_m)) + 4.0 * negative_m3 / (bore_m - shaft_m);
  return (negative_m3 / negative_wall_m2) / (positive_m3 / positive_wall_m2);
}

// A stated value starts its parameter; with a tolerance it is a prior.
FreeParameter stated_or(LawIndex index, const std::optional<protocol::Toleranced>& stated,
                        double assumed_SI, double spread) {
  FreeParameter out = logarithmic(index, stated ? stated->value : assumed_SI, 0.5 * spread, spread);
  if (stated && stated->tolerance) {
    out.prior_standard_uncertainty = *stated->tolerance / stated->value;
    out.prior_is_stated = true;
  }
  return out;
}

void add_coil(const FitInput& input, const LawForm& form, ParameterMap& map) {
  const protocol::CoilSpring& coil = input.fork.coil_spring;
  const double mean_N_m = input.largest_force_N / input.largest_travel_m;
  const double rate_N_m = coil.rate_N_m ? coil.rate_N_m->value : mean_N_m;
  map.free.push_back(stated_or(kCoilRate, coil.rate_N_m, rate_N_m,
                               coil.rate_N_m ? kStatedCoilSpread : kCoilSpread));
  if (form.added_rate) {
    // The file states the whole rate beyond the corner.
    const double added_N_m = coil.second_rate_N_m
                                 ? std::max(coil.second_rate_N_m->value - rate_N_m, 0.05 * rate_N_m)
                                 : kAddedRateShare * rate_N_m;
    map.free.push_back(logarithmic(kAddedRate, added_N_m, 0.5, kCoilSpread));
    map.free.push_back(stated_or(kAddedRateFrom, coil.second_rate_from_m,
                                 0.6 * input.largest_travel_m, kCornerSpread));
  }
  if (form.top_out) {
    map.free.push_back(
        stated_or(kTopOutRate, coil.top_out_rate_N_m, kTopOutRateShare * rate_N_m, kCoilSpread));
    map.free.push_back(stated_or(kTopOutTravel, coil.top_out_travel_m, kTopOut_m, kCornerSpread));
  }
}

void add_lower_legs(const FitInput& input, ParameterMap& map) {
  const double lower_m2 = make_geometry(input.fork).lower_area_m2;
  map.free.push_back(volume(kLowerLegVolume, input.fork.lower_legs.volume_m3,
                            1.45 * lower_m2 * input.fork.travel_m));
}

void add_chambers(const FitInput& input, ParameterMap& map) {
  const double area_m2 = circle_area_m2(input.fork.air_spring.piston_diameter_m);
  const double travel_m = input.fork.travel_m;
  map.free.push_back(
      volume(kPositiveVolume, input.fork.air_spring.positive_volume_m3, 1.7 * area_m2 * travel_m));
  map.free.push_back(
      volume(kNegativeVolume, input.fork.air_spring.negative_volume_m3, 0.28 * area_m2 * travel_m));
}

void add_friction(const FitInput& input, ParameterMap& map) {
  map.free.push_back(linear(kPreload, 5.0, 10.0, 1.5, kPreloadSpread_N / 10.0, -1e300, 1e300));
  if (input.single_stroke) return;
  map.free.push_back(
      linear(kFriction, kFriction_N, 10.0, 0.8, kFrictionSpread_N / 10.0, 0.0, 1e300));
  if (protocol::has_air_spring(input.fork.kind)) {
    map.free.push_back(linear(kFrictionPerPressure, kFrictionPerPressure_N_Pa, 1e-5, 0.9,
                              kFrictionPerPressureSpread_N_Pa / 1e-5, 0.0, 1e300));
  }
  map.free.push_back(logarithmic(kPreslidingTravel, kPresliding_m, 0.7, kPreslidingSpread));
}

void add_by_speed(const LawForm& form, ParameterMap& map) {
  if (form.static_excess) {
    map.free.push_back(
        linear(kStaticExcess, kStaticExcessStart, 0.1, 1.0, kStaticExcessSpread / 0.1, -0.5, 3.0));
    map.free.push_back(logarithmic(kStribeckSpeed, kStribeck_m_s, 0.7, kStribeckSpread));
  }
  if (form.damper) {
    for (LawIndex index : {kDamperCompression, kDamperRebound}) {
      map.free.push_back(linear(index, 0.0, 100.0, 3.0, kDamperSpread_Ns_m / 100.0, -1e300, 1e300));
    }
  }
}

// Each fill is read with its own error. What they have in common cannot be told from the gauge's
// scale, so it is not fitted but carried as a doubt: relative to the pressures, the fitted errors
// add up to nothing.
void add_fill_priors(const ParameterMap& map, const FitInput& input, Problem& problem) {
  if (!map.fill_errors) return;
  LinearPrior common;
  common.standard_uncertainty = 1e-5;
  for (int s = 0; s < map.sweeps; ++s) {
    const protocol::Metadata& about = input.records[static_cast<std::size_t>(s)].metadata;
    problem.parameters.push_back({fmt::format("fill_error[{}]", s)});
    problem.priors.push_back(
        {{{map.fill_position(s), 1.0}}, 0.0, about.doubt.gauge_reading_Pa / map.fill_unit_Pa});
    const double pressure_Pa = about.setting.pressure_gauge_Pa + about.setting.ambient_pressure_Pa;
    common.terms.push_back({map.fill_position(s), map.fill_unit_Pa / pressure_Pa});
  }
  problem.priors.push_back(common);
}

// Exponents without a clock, thermal times with one, of the gas that there is.
void add_heat(const FitInput& input, GasLaw law, ParameterMap& map) {
  const bool air = protocol::has_air_spring(input.fork.kind);
  const bool legs = protocol::has_lower_legs(input.fork.kind);
  if (law == GasLaw::exponent) {
    if (air) {
      map.free.push_back(linear(kExponent, kStartExponent, 0.1, 1.0, kExponentSpread / 0.1, 1.0,
                                kLargestExponent));
    }
    if (legs) {
      map.free.push_back(linear(kLowerLegExponent, kStartLowerLegExponent, 0.1, 0.3,
                                kLowerLegExponentSpread / 0.1, 1.0, kLargestExponent));
    }
    return;
  }
  if (air) {
    map.free.push_back(logarithmic(kTransferBand, kBand_m, 0.5, kBandSpread));
    map.free.push_back(logarithmic(kThermalTime, kThermalTime_s, 1.0, kThermalSpread));
    const double ratio = time_ratio(input, map, law);
    map.free.push_back(logarithmic(kNegativeThermalTime, ratio * kThermalTime_s, 1.0, 0.0));
  }
  // Tied to the air chamber's where there is one.
  if (legs) {
    map.free.push_back(logarithmic(kLowerLegThermalTime, kLowerLegTimeShare * kThermalTime_s, 1.0,
                                   air ? 0.0 : kThermalSpread));
  }
}

void give_what_is_not_there(const protocol::Fork& fork, ParameterMap& map) {
  if (!protocol::has_air_spring(fork.kind)) {
    map.given[kPositiveVolume] = map.given[kNegativeVolume] = kNoVolume_m3;
    map.given[kPistonDiameter] = kNoPiston_m;
    map.given[kTransferTravel] = kNoPort_m;
  }
  if (!protocol::has_lower_legs(fork.kind)) map.given[kLowerLegVolume] = kNoVolume_m3;
}

}  // namespace

ParameterMap make_parameter_map(const FitInput& input, const LawForm& form) {
  const GasLaw law = form.gas;
  const bool air = protocol::has_air_spring(input.fork.kind);
  ParameterMap map;
  map.sweeps = static_cast<int>(input.records.size());
  map.fill_errors = air && map.sweeps > 1;
  map.given[kTransferBand] = kBand_m;
  map.given[kThermalTime] = map.given[kNegativeThermalTime] = kThermalTime_s;
  map.given[kLowerLegThermalTime] = kLowerLegTimeShare * kThermalTime_s;
  map.given[kExponent] = map.given[kLowerLegExponent] = 1.0;
  map.given[kPreslidingTravel] = kPresliding_m;
  map.given[kStribeckSpeed] = kStribeck_m_s;
  map.given[kSpacerVolume] = input.fork.air_spring.spacer_volume_m3.value_or(kSpacer_m3);
  map.given[kPistonDiameter] = input.fork.air_spring.piston_diameter_m;
  map.given[kDamperRodArea] = input.fork.damper_rod_diameter_m
                                  ? circle_area_m2(*input.fork.damper_rod_diameter_m)
                                  : kAssumedRodArea_m2;
  map.given[kPressureScale] = 1.0;
  give_what_is_not_there(input.fork, map);
  if (air) add_chambers(input, map);
  if (!air) add_coil(input, form, map);
  if (protocol::has_lower_legs(input.fork.kind)) add_lower_legs(input, map);
  add_friction(input, map);
  if (air) map.free.push_back(transfer(input));
  add_heat(input, law, map);
  if (air && input.any_spacers && !input.fork.air_spring.spacer_volume_m3) {
    map.free.push_back(logarithmic(kSpacerVolume, kSpacer_m3, 0.4, 0.5));
  }
  add_by_speed(form, map);
  const Geometry geometry = make_geometry(input.fork);
  if (input.largest_travel_m > geometry.bumper_start_m + 1e-3) {
    map.free.push_back(linear(kBumperForce, kBumper_N, 100.0, 5.0, kBumper_N / 100.0, 0.0, 1e300));
  }
  return map;
}

Problem make_problem(const ParameterMap& map, const FitInput& input) {
  Problem problem;
  for (int i = 0; i < map.shared_size(); ++i) {
    const FreeParameter& free = map.free[static_cast<std::size_t>(i)];
    Parameter parameter{std::string(kLawParameters[free.index].name)};
    if (free.scale == Scale::linear) {
      if (free.low_SI > -1e299) parameter.low = (free.low_SI - free.centre_SI) / free.unit_SI;
      if (free.high_SI < 1e299) parameter.high = (free.high_SI - free.centre_SI) / free.unit_SI;
    }
    problem.parameters.push_back(parameter);
    if (free.prior_standard_uncertainty > 0.0) {
      problem.priors.push_back({{{i, 1.0}}, 0.0, free.prior_standard_uncertainty});
    }
  }
  // The centres stand in the assumed ratio already, so the tie is between deviations.
  const int time = map.position_of(kThermalTime);
  for (LawIndex tied : {kNegativeThermalTime, kLowerLegThermalTime}) {
    const int position = map.position_of(tied);
    if (time < 0 || position < 0) continue;
    problem.priors.push_back({{{position, 1.0}, {time, -1.0}}, 0.0, kTieSpread});
  }
  add_fill_priors(map, input, problem);
  return problem;
}

Eigen::VectorXd start_spread(const ParameterMap& map) {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(map.size());
  for (int i = 0; i < map.shared_size(); ++i) out(i) = map.free[static_cast<std::size_t>(i)].spread;
  return out;
}

BenchDoubt bench_doubt(const FitInput& input, const LawForm& form) {
  BenchDoubt out;
  const bool air = protocol::has_air_spring(input.fork.kind);
  for (const protocol::SweepRecord& record : input.records) {
    const protocol::InstrumentDoubt& doubt = record.metadata.doubt;
    out.gain_relative = std::max(out.gain_relative, doubt.gain_relative);
    out.zero_N = std::max(out.zero_N, doubt.zero_N);
    out.travel_zero_m = std::max(out.travel_zero_m, doubt.travel_zero_m);
    if (air) {
      out.gauge_relative = std::max(out.gauge_relative, doubt.gauge_relative);
      out.gauge_reading_Pa = std::max(
          out.gauge_reading_Pa, doubt.gauge_reading_Pa / std::sqrt(double(input.records.size())));
    }
    if (!record.metadata.travel_calibration) out.travel_relative = kTravelRelative;
    if (!record.metadata.frame_calibration) {
      out.frame_m_N =
          std::max(out.frame_m_N, record.metadata.origin == "sweep" ? kOwnFrame_m_N : kFrame_m_N);
    }
  }
  const bool legs = protocol::has_lower_legs(input.fork.kind);
  if (legs && !input.fork.damper_rod_diameter_m) out.rod_area_m2 = kAssumedRodAreaDoubt_m2;
  out.stroke_drag_N = input.single_stroke ? kOneWayFriction_N : (form.damper ? 0.0 : kDamper_N);
  out.damper_gas_N = kDamperGas_N;
  return out;
}

}  // namespace fitting
