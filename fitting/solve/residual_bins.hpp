// Means of a sweep's residual in bins of travel, by direction or by stroke.
#pragma once

#include <array>
#include <cmath>
#include <map>

#include "fitting/solve/sweep_evidence.hpp"

namespace fitting {

inline constexpr int kMisfitBins = 48;

// Measured less simulated.
struct BinMean {
  double rows = 0.0;
  double sum_N = 0.0;
  double noise_N2 = 0.0;  // variance of one row

  double mean_N() const { return rows > 0.0 ? sum_N / rows : 0.0; }
  double noise_N() const { return rows > 0.0 ? std::sqrt(noise_N2 / rows) : 0.0; }
};
using BinMeans = std::array<BinMean, kMisfitBins>;

// residual_N: simulated minus measured for every row of the evidence.
// width_m: of one bin, the same for all sweeps that are put together.
BinMeans bins_of(const SweepEvidence& sweep, const Eigen::VectorXd& residual_N, int direction,
                 double width_m);
std::map<int, BinMeans> bins_by_stroke(const SweepEvidence& sweep,
                                       const Eigen::VectorXd& residual_N, int direction,
                                       double width_m);

void add_to(BinMeans& sum, const BinMeans& bins);

}  // namespace fitting
