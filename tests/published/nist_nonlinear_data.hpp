// The NIST nonlinear regression sets as tables: what a solver is given, and what it should find.
#pragma once

#include <string>
#include <vector>

namespace nist {

struct Set {
  std::string name;
  std::vector<double> x;
  std::vector<double> y;
  std::vector<double> start_1;  // far from the answer
  std::vector<double> start_2;  // near it
  std::vector<double> certified;
  std::vector<double> standard_deviation;  // certified, of the parameters
  double residual_sum_of_squares = 0.0;    // certified
};

const std::vector<Set>& sets();

}  // namespace nist
