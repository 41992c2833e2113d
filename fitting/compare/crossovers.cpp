#include "fitting/compare/crossovers.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace fitting {
namespace {

constexpr double kSlopeReach_m = 0.003;  // half a window for the slope of the difference
constexpr double kPlaceReach_m = 0.001;  // the same for the place, beyond the outermost sign change
constexpr double kPlaceReachMax_m = 0.010;  // ... and as far as it may grow
constexpr double kSlopeDoubtMax = 0.1;      // of the slope: beyond this the window grows
constexpr double kMergeFactor = 2.0;        // sign changes closer than this many doubts are one
constexpr double kBent = 1.25;              // room over that of straight curves, to be worth a word
constexpr double kUnplacedShare = 0.1;      // of the compared travel

// Sign changes that belong together.
struct Cluster {
  double first_m = 0.0;
  double last_m = 0.0;
  int changes = 1;
  int sign_behind = 0;  // of A - B after the last one
  double doubt_m = 0.0;
};

// Straight line through the difference between two travels, with what its value is made of.
struct Line {
  Eigen::Index first = 0;
  Eigen::Index size = 0;
  double mean_m = 0.0;
  double mean_N = 0.0;
  double slope_N_m = 0.0;
  double sxx_m2 = 0.0;
};

Line line_through(const Difference& difference, double from_m, double to_m) {
  const auto index = [&](double travel_m) {
    const double place = (travel_m - difference.from_m()) / difference.step_m;
    return std::clamp<Eigen::Index>(std::lround(place), 0, difference.size() - 1);
  };
  Line line;
  line.first = index(from_m);
  Eigen::Index last = index(to_m);
  // A slope needs three points, also at the edge of the compared travel.
  if (last - line.first < 2) {
    line.first = std::max<Eigen::Index>(0, line.first - 1);
    last = std::min<Eigen::Index>(difference.size() - 1, line.first + 2);
    line.first = std::max<Eigen::Index>(0, last - 2);
  }
  line.size = last - line.first + 1;
  const double n = static_cast<double>(line.size);
  line.mean_m = 0.5 * (difference.travel_m[static_cast<std::size_t>(line.first)] +
                       difference.travel_m[static_cast<std::size_t>(last)]);
  line.mean_N = difference.mean_N(line.first, last);
  double sxd = 0.0;
  for (Eigen::Index i = line.first; i <= last; ++i) {
    const double away_m = difference.travel_m[static_cast<std::size_t>(i)] - line.mean_m;
    line.sxx_m2 += away_m * away_m;
    sxd += away_m * difference.difference_N(i);
  }
  line.slope_N_m = n > 1.0 ? sxd / line.sxx_m2 : 0.0;
  return line;
}

// Standard uncertainty of the line's value at a travel, from the covariance of the points.
double value_doubt_N(const Difference& difference, const Line& line, double travel_m) {
  Eigen::VectorXd weights(line.size);
  for (Eigen::Index i = 0; i < line.size; ++i) {
    const double away_m =
        difference.travel_m[static_cast<std::size_t>(line.first + i)] - line.mean_m;
    weights(i) =
        1.0 / static_cast<double>(line.size) + (travel_m - line.mean_m) * away_m / line.sxx_m2;
  }
  const auto block = difference.covariance_N2.block(line.first, line.first, line.size, line.size);
  return std::sqrt(std::max(0.0, weights.dot(block * weights)));
}

double place_doubt_m(const Difference& difference, const Cluster& cluster) {
  const Line line =
      line_through(difference, cluster.first_m - kSlopeReach_m, cluster.last_m + kSlopeReach_m);
  const double travel_m = 0.5 * (cluster.first_m + cluster.last_m);
  const double range_m = difference.to_m() - difference.from_m();
  const double slope_N_m = std::abs(line.slope_N_m);
  if (slope_N_m == 0.0) return range_m;
  return std::min(range_m, value_doubt_N(difference, line, travel_m) / slope_N_m);
}

std::vector<Cluster> sign_changes(const Difference& difference) {
  std::vector<Cluster> changes;
  Eigen::Index before = -1;  // the last point that is not zero
  for (Eigen::Index i = 0; i < difference.size(); ++i) {
    const double here_N = difference.difference_N(i);
    if (here_N == 0.0) continue;
    if (before >= 0 && (here_N > 0.0) != (difference.difference_N(before) > 0.0)) {
      const double before_N = difference.difference_N(before);
      const double before_m = difference.travel_m[static_cast<std::size_t>(before)];
      const double here_m = difference.travel_m[static_cast<std::size_t>(i)];
      const double place_m = before_m + (here_m - before_m) * before_N / (before_N - here_N);
      changes.push_back({place_m, place_m, 1, here_N > 0.0 ? 1 : -1, 0.0});
    }
    before = i;
  }
  for (Cluster& change : changes) change.doubt_m = place_doubt_m(difference, change);
  return changes;
}

// Joins neighbours within each other's doubt until none are left. A cluster's doubt is judged anew
// each time, over its whole width.
void merge(const Difference& difference, std::vector<Cluster>& clusters) {
  for (std::size_t i = 0; i + 1 < clusters.size();) {
    Cluster& left = clusters[i];
    const Cluster& right = clusters[i + 1];
    const double reach_m = kMergeFactor * std::max(left.doubt_m, right.doubt_m) + difference.step_m;
    if (right.first_m - left.last_m > reach_m) {
      ++i;
      continue;
    }
    left.last_m = right.last_m;
    left.changes += right.changes;
    left.sign_behind = right.sign_behind;
    left.doubt_m = place_doubt_m(difference, left);
    clusters.erase(clusters.begin() + static_cast<std::ptrdiff_t>(i) + 1);
    // What has grown may now reach its neighbour to the left.
    if (i > 0) --i;
  }
}

// Standard uncertainty of the line's slope.
double slope_doubt_N_m(const Difference& difference, const Line& line) {
  Eigen::VectorXd weights(line.size);
  for (Eigen::Index i = 0; i < line.size; ++i) {
    weights(i) =
        (difference.travel_m[static_cast<std::size_t>(line.first + i)] - line.mean_m) / line.sxx_m2;
  }
  const auto block = difference.covariance_N2.block(line.first, line.first, line.size, line.size);
  return std::sqrt(std::max(0.0, weights.dot(block * weights)));
}

// A narrow window follows curved curves, a wide one sees through noise: as narrow as the slope
// allows.
Line placing_line(const Difference& difference, const Cluster& cluster) {
  for (double reach_m = kPlaceReach_m;; reach_m *= 1.5) {
    const double used_m = std::min(reach_m, kPlaceReachMax_m);
    Line line = line_through(difference, cluster.first_m - used_m, cluster.last_m + used_m);
    const bool clear =
        slope_doubt_N_m(difference, line) <= kSlopeDoubtMax * std::abs(line.slope_N_m);
    if (clear || used_m == kPlaceReachMax_m) return line;
  }
}

// How far from the crossing the difference may still be nothing, on the side where that is farther.
// No value: as far as the compared travel goes.
std::optional<double> room_m(const Difference& difference, double travel_m) {
  // Below zero where no difference is possible.
  const auto resolved_N = [&](double x_m) {
    const Line line = line_through(difference, x_m - kSlopeReach_m, x_m + kSlopeReach_m);
    const double value_N = line.mean_N + line.slope_N_m * (x_m - line.mean_m);
    return std::abs(value_N) - kPointwise95 * value_doubt_N(difference, line, x_m);
  };
  double farthest_m = 0.0;
  for (const double way : {-1.0, +1.0}) {
    double x_m = travel_m;
    double here_N = resolved_N(x_m);
    while (here_N < 0.0) {
      const double next_m = x_m + way * difference.step_m;
      if (next_m < difference.from_m() || next_m > difference.to_m()) return std::nullopt;
      const double next_N = resolved_N(next_m);
      const double share = next_N < 0.0 ? 1.0 : here_N / (here_N - next_N);
      farthest_m = std::max(farthest_m, std::abs(x_m + share * (next_m - x_m) - travel_m));
      x_m = next_m;
      here_N = next_N;
    }
  }
  return farthest_m;
}

std::optional<Crossover> place(const Difference& difference, const Cluster& cluster) {
  const Line line = placing_line(difference, cluster);
  const bool rises = cluster.sign_behind > 0;
  if (line.slope_N_m == 0.0 || (line.slope_N_m > 0.0) != rises) return std::nullopt;
  Crossover crossover;
  crossover.a_firmer_behind = rises;
  crossover.travel_m = std::clamp(line.mean_m - line.mean_N / line.slope_N_m, difference.from_m(),
                                  difference.to_m());
  crossover.standard_uncertainty_m =
      value_doubt_N(difference, line, crossover.travel_m) / std::abs(line.slope_N_m);
  // Curves that run alongside each other leave more room than the slope at the crossing tells.
  const std::optional<double> room = room_m(difference, crossover.travel_m);
  if (!room) return std::nullopt;
  if (*room > kBent * kPointwise95 * crossover.standard_uncertainty_m) {
    crossover.standard_uncertainty_m = *room / kPointwise95;
  }
  return crossover;
}

}  // namespace

Crossings find_crossovers(const Difference& difference) {
  Crossings crossings;
  std::vector<Cluster> clusters = sign_changes(difference);
  merge(difference, clusters);
  const double too_wide_m = kUnplacedShare * (difference.to_m() - difference.from_m());
  for (const Cluster& cluster : clusters) {
    // Back to where it came from: whether the curves crossed twice or only met is not told.
    const bool twice = cluster.changes % 2 == 0;
    const std::optional<Crossover> crossover = twice ? std::nullopt : place(difference, cluster);
    if (crossover && crossover->standard_uncertainty_m <= too_wide_m) {
      crossings.crossovers.push_back(*crossover);
    } else {
      ++crossings.unplaced;
    }
  }
  return crossings;
}

}  // namespace fitting
