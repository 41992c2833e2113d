// A fitted model written by hand, so that a test knows every number in it.
#pragma once

#include "fitting/model/predict.hpp"
#include "tests/fitting/law_samples.hpp"

namespace hand_made {

inline fitting::FittedModel model() {
  using namespace fitting;
  FittedModel out;
  out.fork.name = "Larch 160";
  out.fork.travel_m = 0.160;
  out.fork.maximum_pressure_Pa = 1034214.0;  // 150 psi
  out.fork.air_spring.piston_diameter_m = 31.8e-3;
  out.fork.air_spring.shaft_diameter_m = 9e-3;
  out.fork.lower_legs.stanchion_diameter_m = 35e-3;
  out.fork.bumper_m = 7e-3;
  out.law_values = law_samples::fork();
  out.reference = law_samples::kReference;
  out.free = {kPositiveVolume, kPreload};
  out.own_covariance.setZero(2, 2);
  out.own_covariance.diagonal() << 1.44, 4.0;  // (1.2 cm3)^2, (2 N)^2
  out.statistical_covariance = 0.01 * out.own_covariance;
  out.context.mean_pressure_gauge_Pa = 550e3;
  out.context.mean_speed_m_s = 0.004;
  out.context.swept_travel_m = 0.146;
  out.context.largest_force_N = 1900.0;
  out.usable = true;
  return out;
}

}  // namespace hand_made
