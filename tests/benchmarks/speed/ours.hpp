// A data set fitted by the product's library: reduced, solved, certified on every sample.
#pragma once

#include "fitting/solve/problem.hpp"
#include "fitting/solve/reduction/certificate.hpp"
#include "tests/benchmarks/speed/data_sets.hpp"

namespace speed {

struct Fit {
  Eigen::VectorXd values;
  fitting::Certificate certificate;
  int iterations = 0;
  double reduce_ms = 0.0;
  double solve_ms = 0.0;
  double certify_ms = 0.0;

  double total_ms() const { return reduce_ms + solve_ms + certify_ms; }
};

Fit fit(const DataSet& set, int threads = 1);

// A thousand replicates of whole strokes, from the solution, reduced anew stroke by stroke.
struct Replicates {
  double ms = 0.0;
  int failed = 0;
  std::string refused;
};
Replicates draw_strokes(const DataSet& set, const Eigen::VectorXd& solution);

// One pass over all samples: residual, Jacobian and normal equations.
double pass_ms(const DataSet& set);

// Milliseconds since some moment.
double now_ms();

}  // namespace speed
