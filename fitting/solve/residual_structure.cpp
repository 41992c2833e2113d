#include "fitting/solve/residual_structure.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace fitting {
namespace {

struct Bin {
  double rows = 0.0;
  double sum_N = 0.0;
  double mean_N() const { return rows > 0.0 ? sum_N / rows : 0.0; }
};
using Bins = std::array<Bin, kStructureBins>;

// One row of bins for each direction of a sweep.
std::array<Bins, 2> bin_sweep(const SweepEvidence& sweep, const Eigen::VectorXd& residual_N) {
  std::array<Bins, 2> out{};
  const double width_m = sweep.path().largest_travel_m / kStructureBins;
  for (int i = 0; i < sweep.rows(); ++i) {
    const PathNode& node = sweep.node(i);
    const int at = std::clamp(static_cast<int>(node.travel_m / width_m), 0, kStructureBins - 1);
    Bin& bin = out[node.direction > 0 ? 0 : 1][static_cast<std::size_t>(at)];
    bin.rows += node.rows;
    bin.sum_N += node.rows * residual_N(i);
  }
  return out;
}

struct Sums {
  double bins = 0.0;
  double square_N2 = 0.0;
  double noise_N2 = 0.0;  // share of the noise in the bins
  double pairs = 0.0;
  double product_N2 = 0.0;  // of neighbours
  double width_m = 0.0;
};

void add(const Bins& bins, double width_m, double noise_N, Sums& sums, ResidualStructure& out) {
  for (std::size_t i = 0; i < bins.size(); ++i) {
    if (bins[i].rows <= 0.0) continue;
    const double mean_N = bins[i].mean_N();
    sums.bins += 1.0;
    sums.square_N2 += mean_N * mean_N;
    sums.noise_N2 += noise_N * noise_N / bins[i].rows;
    if (std::abs(mean_N) > std::abs(out.worst_N)) {
      out.worst_N = mean_N;
      out.worst_travel_m = (double(i) + 0.5) * width_m;
    }
    if (i + 1 < bins.size() && bins[i + 1].rows > 0.0) {
      sums.pairs += 1.0;
      sums.product_N2 += mean_N * bins[i + 1].mean_N();
    }
  }
  sums.width_m = std::max(sums.width_m, width_m);
}

}  // namespace

double ResidualStructure::sample_variance_N2() const {
  const double repeated = std::max(1.0, 2.0 * correlation_length_m * samples_per_m);
  return noise_N * noise_N + structured_N * structured_N * repeated;
}

ResidualStructure find_structure(const std::vector<const SweepEvidence*>& sweeps,
                                 const std::vector<Eigen::VectorXd>& residuals_N) {
  ResidualStructure out;
  Sums sums;
  double square_N2 = 0.0;
  double noise_N2 = 0.0;
  double travelled_m = 0.0;
  double rows = 0.0;
  for (std::size_t s = 0; s < sweeps.size(); ++s) {
    const Path& path = sweeps[s]->path();
    for (int i = 0; i < sweeps[s]->rows(); ++i) {
      const PathNode& node = sweeps[s]->node(i);
      square_N2 += node.rows * residuals_N[s](i) * residuals_N[s](i) + node.scatter_N2;
      // The line through a cell's rows follows their noise; about the model they scatter more, by
      // one row's worth.
      if (node.rows > 1) square_N2 += path.noise_N * path.noise_N;
      rows += node.rows;
    }
    noise_N2 += path.noise_N * path.noise_N;
    travelled_m += path.strokes * path.largest_travel_m;
    const std::array<Bins, 2> bins = bin_sweep(*sweeps[s], residuals_N[s]);
    for (const Bins& direction : bins) {
      add(direction, path.largest_travel_m / kStructureBins, path.noise_N, sums, out);
    }
  }
  out.samples = static_cast<std::size_t>(rows);
  out.rms_N = rows > 0.0 ? std::sqrt(square_N2 / rows) : 0.0;
  out.noise_N = std::sqrt(noise_N2 / double(sweeps.size()));
  out.samples_per_m = rows / std::max(travelled_m, 1e-6);
  if (sums.bins > 0.0) {
    out.structured_N = std::sqrt(std::max(0.0, (sums.square_N2 - sums.noise_N2) / sums.bins));
    const double neighbour = sums.pairs > 0.0 && sums.square_N2 > 0.0
                                 ? (sums.product_N2 / sums.pairs) / (sums.square_N2 / sums.bins)
                                 : 0.0;
    out.correlation_length_m = sums.width_m / -std::log(std::clamp(neighbour, 0.2, 0.9));
  }
  return out;
}

}  // namespace fitting
