// What mounting a fork anew changes: a Type A evaluation [GUM 4.2] from sweeps of one setting with
// the fork taken out and put back in between.
//
// Friction settles anew, the axle sits a little otherwise, the lower legs are cycled again: none of
// it shows within one mounting, and all of it is in the difference of two forks. The scatter is
// pooled over both forks and widened for the few mountings there are by Student's factor over the
// normal one [GUM G.3]. Noise and zero of the single sweeps are in it once more, which errs to the
// wide side.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "fitting/curve/curve_json.hpp"

namespace fitting {

// The scatter as a difference of two forks meets it.
struct MountScatter {
  std::vector<double> travel_m;   // ascending, n points
  Eigen::MatrixXd covariance_N2;  // n x n, of one mounting's midline, widened
  double rms_N = 0.0;             // of one mounting, as found
  int degrees_of_freedom = 0;
  int mountings_a = 1;
  int mountings_b = 1;

  // How much of one mounting's covariance is in the difference of the two means.
  double share() const { return 1.0 / mountings_a + 1.0 / mountings_b; }
};

// Sweeps of one fork at one setting. Those of one mounting number are one mounting; a sweep without
// a number is a mounting of its own.
using Sweeps = std::vector<CurveAnswer>;

// ERRORS: record_unusable where a sweep is of another fork or setting than the first.
protocol::Result<void> check_repeats(const Sweeps& sweeps);

// The mean midline of each mounting, on travels that all sweeps cover.
struct Mountings {
  std::vector<double> travel_m;
  std::vector<Eigen::VectorXd> midlines_N;

  int count() const { return static_cast<int>(midlines_N.size()); }
  Eigen::VectorXd mean_N() const;
};
// REQUIRES: at least one sweep. ERRORS: as check_repeats; record_unusable without common travel.
protocol::Result<Mountings> mountings_of(const Sweeps& sweeps);

// No value where neither fork was mounted more than once; an empty list counts as one mounting.
// ERRORS: as mountings_of.
protocol::Result<std::optional<MountScatter>> mount_scatter(const Sweeps& a, const Sweeps& b);

// An order of sweeps in which a drift that is even in time falls out of A - B: A B B A, and so on.
// 'a' and 'b', `mountings` of each. REQUIRES: mountings >= 1.
std::vector<char> mounting_order(int mountings);

// What is left of such a drift in mean A - mean B, in drifts from one sweep to the next: 0 for even
// numbers of mountings.
double drift_left(const std::vector<char>& order);

// Expanded uncertainty (95 %) of the difference of both means, for a scatter of 1 of one mounting.
double expanded_mount_factor(int mountings);

}  // namespace fitting
