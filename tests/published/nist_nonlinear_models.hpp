// The models of the NIST nonlinear regression sets, differentiated automatically.
#pragma once

#include <ceres/jet.h>

#include <string>

namespace nist {

inline constexpr int kParameters_max = 9;
using Jet = ceres::Jet<double, kParameters_max>;

// A set's response for parameters b and predictors x, x2.
using Model = Jet (*)(const Jet* b, double x, double x2);

// REQUIRES: one of set_names().
Model model_of(const std::string& name);

// The response is the logarithm of y in one set, y itself in the others.
bool takes_logarithm(const std::string& name);

}  // namespace nist
