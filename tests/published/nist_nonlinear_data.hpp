// The NIST nonlinear regression sets as tables: what a solver is given, and what it should find.
//
// Each stands in a file nist/NAME.dat: lines of a key and numbers (start_1, start_2, certified,
// standard_deviation, residual_sum_of_squares, observations), then one line for each observation,
// y and its one or two predictors, with the digits of the published files. # begins a remark.
#pragma once

#include <string>
#include <vector>

#include "protocol/result.hpp"

namespace nist {

struct Set {
  std::string name;
  std::vector<double> y;
  std::vector<double> x;
  std::vector<double> x2;       // empty: there is one predictor
  std::vector<double> start_1;  // far from the answer
  std::vector<double> start_2;  // near it
  std::vector<double> certified;
  std::vector<double> standard_deviation;  // certified, of the parameters
  double residual_sum_of_squares = 0.0;    // certified
};

// ERRORS: input_missing, input_malformed with file and line.
protocol::Result<Set> load_set(const std::string& name);

// The names of all sets, in the order of their difficulty as published.
const std::vector<std::string>& set_names();

}  // namespace nist
