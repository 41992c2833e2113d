// What a fit of one fork starts from, assumes, and leaves free.
#pragma once

#include "fitting/model/follow.hpp"
#include "fitting/solve/parameter_map.hpp"
#include "fitting/solve/problem.hpp"
#include "fitting/solve/uncertainty.hpp"

namespace fitting {

// The sweeps of one fit, reduced to paths.
struct FitInput {
  protocol::Fork fork;
  std::vector<protocol::SweepRecord> records;
  std::vector<Path> paths;
  bool has_time = true;
  double mean_pressure_gauge_Pa = 0.0;
  double mean_speed_m_s = 0.0;
  double largest_travel_m = 0.0;
  double largest_force_N = 0.0;
  bool any_spacers = false;
  bool single_stroke = false;
};

protocol::Result<FitInput> make_fit_input(const std::vector<protocol::SweepRecord>& records);

ThermalReference thermal_reference(const FitInput& input);

// Free parameters with their starts and spreads for one form of the gas law.
ParameterMap make_parameter_map(const FitInput& input, GasLaw law);

// The map as a problem: bounds, priors from tolerances and assumptions, ties between thermal times.
// Evidence is added by the caller.
Problem make_problem(const ParameterMap& map, const FitInput& input, GasLaw law);

// Random starts' half-width by parameter.
Eigen::VectorXd start_spread(const ParameterMap& map);

BenchDoubt bench_doubt(const FitInput& input);

}  // namespace fitting
