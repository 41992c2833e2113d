// A - B on a common grid, with the covariance of the difference and the factor of a band that holds
// over all travel at once.
#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <optional>
#include <vector>

#include "fitting/compare/mounts.hpp"
#include "fitting/compare/side.hpp"

namespace fitting {

// At one travel by itself, 95 % of a normal distribution lie within so many standard uncertainties.
inline constexpr double kPointwise95 = 1.96;

struct DifferenceOptions {
  double step_m = 0.0005;    // about; the range is divided evenly
  double from_share = 0.05;  // of the travel that both cover
  double to_share = 0.95;
  int draws = 2000;  // of the simultaneous band
  std::uint64_t seed = 20231;
  std::optional<MountScatter> mounts;  // enters every difference
};

struct Difference {
  std::vector<double> travel_m;  // evenly spaced, n points
  double step_m = 0.0;
  double covered_from_m = 0.0;  // what both cover, of which the grid is a part
  double covered_to_m = 0.0;
  Eigen::VectorXd difference_N;   // A - B
  Eigen::MatrixXd covariance_N2;  // n x n
  Eigen::VectorXd standard_uncertainty_N;
  // |difference| exceeds this many standard uncertainties anywhere with a chance of 5 % if there is
  // no difference at all.
  double band_factor = 1.96;

  double from_m() const { return travel_m.front(); }
  double to_m() const { return travel_m.back(); }
  Eigen::Index size() const { return difference_N.size(); }
  // Mean over grid points first .. last (inclusive), and its standard uncertainty.
  double mean_N(Eigen::Index first, Eigen::Index last) const;
  double mean_uncertainty_N(Eigen::Index first, Eigen::Index last) const;
};

// ERRORS: record_unusable if the two have less than 5 mm of travel in common.
protocol::Result<Difference> difference_of(const Side& a, const Side& b,
                                           const DifferenceOptions& options = {});

// The 95 % quantile of max |z| over the points, z normal with this covariance; by seeded drawing.
// Points without any doubt are left out; 1.96 if none remain.
double simultaneous_factor(const Eigen::MatrixXd& covariance, int draws, std::uint64_t seed);

}  // namespace fitting
