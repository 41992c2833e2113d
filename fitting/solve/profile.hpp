// How far one parameter can go before the data object, the others fitted anew at every value.
//
// Where the misfit is a parabola this is the covariance's interval again; where it is not, because
// a parameter trades against another along a bend or the data bound it on one side only, this is
// the interval to quote. It knows the noise, as the weights count it, and nothing of the bench's
// doubts.
#pragma once

#include <optional>

#include "fitting/solve/problem.hpp"

namespace fitting {

// Ends in solver's units; none where the data do not object within the search.
struct ProfileEnds {
  std::optional<double> low;
  std::optional<double> high;
};

// Misfit (half the sum of squares) above the least at which a value lies outside: half of a
// chi-square with one degree of freedom. 95 %: 3.841 / 2.
inline constexpr double kProfile95 = 1.920729;

// deviation: the covariance's standard deviation, from which the search starts. REQUIRES: solution
// is the optimum.
ProfileEnds profile(const Problem& problem, const Eigen::VectorXd& solution, int position,
                    double deviation, const SolveOptions& options);

}  // namespace fitting
