// What a fit leaves over once the noise is averaged away: a model's own error, seen in the
// residual.
#pragma once

#include <vector>

#include "fitting/solve/sweep_evidence.hpp"

namespace fitting {

struct ResidualStructure {
  double rms_N = 0.0;         // of single samples, noise included
  double noise_N = 0.0;       // of one sample
  double structured_N = 0.0;  // rms of travel bins, their share of noise taken out
  double correlation_length_m = 0.0;
  double samples_per_m = 0.0;  // along one stroke
  double worst_N = 0.0;        // largest bin, signed
  double worst_travel_m = 0.0;
  std::size_t samples = 0;

  // Variance to give each sample so that the structure counts as much as it really tells: samples
  // within a correlation length repeat one another.
  double sample_variance_N2() const;
};

inline constexpr int kStructureBins = 24;

// Residuals by sweep: simulated minus measured for every row of its evidence.
ResidualStructure find_structure(const std::vector<const SweepEvidence*>& sweeps,
                                 const std::vector<Eigen::VectorXd>& residuals_N);

}  // namespace fitting
