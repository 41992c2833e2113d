// Weights by their class: what a weight of OIML R 111 may be wrong by, where nothing better is
// known of it.
#pragma once

#include <string>
#include <string_view>

#include "protocol/result.hpp"

namespace calibration {

// The maximum permissible error of a weight of 100 g or more, relative to its nominal mass: 50e-6
// for class M1. Lighter weights are allowed more; they are no loads for a fork bench.
// ERRORS: input_out_of_range with the list of classes.
protocol::Result<double> weight_relative_error_limit(std::string_view weight_class);

// The limit as a rectangular distribution: limit / sqrt(3), k = 1. ERRORS: the same.
protocol::Result<double> weight_relative_standard_uncertainty(std::string_view weight_class);

// "E2, F1, F2, M1, M2, M3"
std::string weight_class_list();

}  // namespace calibration
