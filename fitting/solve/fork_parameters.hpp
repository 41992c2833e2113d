// What a fit of one fork starts from, assumes, and leaves free.
#pragma once

#include "fitting/solve/fit_input.hpp"
#include "fitting/solve/law_form.hpp"
#include "fitting/solve/parameter_map.hpp"
#include "fitting/solve/problem.hpp"
#include "fitting/solve/uncertainty.hpp"

namespace fitting {

// Thermal times against each other, of the logarithm.
inline constexpr double kTieSpread = 0.5;

// Free parameters with their starts and spreads for one form of the law.
ParameterMap make_parameter_map(const FitInput& input, const LawForm& form);

// The map as a problem: bounds, priors from tolerances and assumptions, ties between thermal times.
// Evidence is added by the caller.
Problem make_problem(const ParameterMap& map, const FitInput& input);

// Random starts' half-width by parameter.
Eigen::VectorXd start_spread(const ParameterMap& map);

BenchDoubt bench_doubt(const FitInput& input, const LawForm& form);

}  // namespace fitting
