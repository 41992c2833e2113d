// What a ride's log says of the travel that was used. Everything is weighted by time, and between
// samples travel is straight, so that nothing hangs on how evenly the logger ticked.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "fitting/compare/difference.hpp"
#include "fitting/ride/trace.hpp"

namespace fitting {

// Fine enough for any figure.
inline constexpr double kTimeCell_m = 5e-4;

// Time by travel, exact at the edges of its cells.
class TimeByTravel {
 public:
  // Cells of this width over the fork's travel; what lies outside is added to the end cells.
  TimeByTravel(const RideTrace& trace, double cell_m);

  double total_s() const { return total_s_; }
  double travel_m(std::size_t edge) const { return cell_m_ * static_cast<double>(edge); }
  std::size_t edges() const { return beyond_s_.size(); }
  // Share of time beyond an edge; and beyond any travel, straight between edges.
  double share_beyond(std::size_t edge) const { return beyond_s_[edge] / total_s_; }
  double share_beyond(double travel_m) const;
  // Travel that this share of the time lies beyond.
  double travel_of_share(double share) const;

 private:
  double cell_m_;
  double total_s_ = 0.0;
  std::vector<double> beyond_s_;
};

struct RideSummary {
  double time_s = 0.0;  // gaps left out
  double mean_m = 0.0;
  double deepest_m = 0.0;
  // Moved there and back, turns shorter than kSmallestTurn_m left out as jitter.
  double compressed_m = 0.0;
  double extended_m = 0.0;
  double still_share = 0.0;  // of the time: slower than kStill_m_s
};

inline constexpr double kSmallestTurn_m = 5e-4;
inline constexpr double kStill_m_s = 5e-3;
// Speed is the slope of a line through the samples this near, at least one on either side.
inline constexpr double kSpeedReach_s = 0.008;

// A sample's speed, with the time that it stands for: half of that to either neighbour, gaps left
// out.
struct WeightedSpeed {
  double speed_m_s = 0.0;
  double time_s = 0.0;
};
std::vector<WeightedSpeed> speeds_of(const RideTrace& trace);

RideSummary summarise(const RideTrace& trace, const std::vector<WeightedSpeed>& speeds);
inline RideSummary summarise(const RideTrace& trace) {
  return summarise(trace, speeds_of(trace));
}

// Quantiles of the speed while compressing and while extending, by time, m/s and positive. A motion
// of one direction that never was has none: NaN.
struct SpeedQuantiles {
  std::vector<double> compression_m_s;
  std::vector<double> extension_m_s;
};
SpeedQuantiles speed_quantiles(const std::vector<WeightedSpeed>& speeds,
                               const std::vector<double>& shares);

// The bench difference A - B as the rider meets it: its mean over travel, weighted by the time
// spent there. Travel that the difference does not cover is left out and said.
struct RiddenDifference {
  double mean_N = 0.0;
  double standard_uncertainty_N = 0.0;
  double share_covered = 0.0;  // of the time
};
RiddenDifference weigh_by_ride(const Difference& difference,
                               const std::vector<const TimeByTravel*>& rides);

}  // namespace fitting
