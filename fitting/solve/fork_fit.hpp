// Several sweeps of one fork fitted together: they share the fork's geometry, and each has its own
// fill.
//
// Records with a clock are fitted with the heat law in both its forms, chosen by an information
// criterion; records without one by an effective exponent, and then friction is not determined.
#pragma once

#include <vector>

#include "fitting/model/fitted_model.hpp"

namespace fitting {

struct FitOptions {
  int threads = 2;
  int candidates = 48;
  int starts = 10;
  std::uint64_t seed = 20260101;
  bool profiles = false;         // profile likelihoods of the parameters that people quote
  int bootstrap_replicates = 0;  // of whole strokes; 0: none
};

// ERRORS: record_unusable where a record has no strokes; input_out_of_range where records are of
// different forks. A fit that failed is not an error: the model is marked not usable, with the
// reason in warnings.
protocol::Result<FittedModel> fit_fork(const std::vector<protocol::SweepRecord>& records,
                                       const FitOptions& options = {});

}  // namespace fitting
