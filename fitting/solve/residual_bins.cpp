#include "fitting/solve/residual_bins.hpp"

#include <algorithm>

namespace fitting {
namespace {

void add_row(const SweepEvidence& sweep, const Eigen::VectorXd& residual_N, int row, double width_m,
             BinMeans& bins) {
  const PathNode& node = sweep.node(row);
  const int at = std::clamp(static_cast<int>(node.travel_m / width_m), 0, kMisfitBins - 1);
  BinMean& bin = bins[static_cast<std::size_t>(at)];
  bin.rows += node.rows;
  bin.sum_N -= node.rows * residual_N(row);
  bin.noise_N2 = sweep.path().noise_N * sweep.path().noise_N;
}

}  // namespace

BinMeans bins_of(const SweepEvidence& sweep, const Eigen::VectorXd& residual_N, int direction,
                 double width_m) {
  BinMeans out{};
  for (int row = 0; row < sweep.rows(); ++row) {
    if (sweep.node(row).direction == direction) add_row(sweep, residual_N, row, width_m, out);
  }
  return out;
}

std::map<int, BinMeans> bins_by_stroke(const SweepEvidence& sweep,
                                       const Eigen::VectorXd& residual_N, int direction,
                                       double width_m) {
  std::map<int, BinMeans> out;
  for (int row = 0; row < sweep.rows(); ++row) {
    const PathNode& node = sweep.node(row);
    if (node.direction == direction) add_row(sweep, residual_N, row, width_m, out[node.stroke]);
  }
  return out;
}

void add_to(BinMeans& sum, const BinMeans& bins) {
  for (std::size_t i = 0; i < bins.size(); ++i) {
    sum[i].rows += bins[i].rows;
    sum[i].sum_N += bins[i].sum_N;
    sum[i].noise_N2 = std::max(sum[i].noise_N2, bins[i].noise_N2);
  }
}

}  // namespace fitting
