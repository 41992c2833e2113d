// What the screw does beside its scale.
#pragma once

#include <optional>

#include "calibration/calibration.hpp"

namespace calibration {

struct TravelPerformance {
  double scale_m_per_step = 0.0;  // of the curve, from its lowest to its highest reading
  // Of the mean ascending place against the straight line through its ends; largest magnitude.
  // Empty where fewer than two places were read from one side.
  std::optional<double> linearity_m;
  // The distance between coming up and coming down at one reading: largest of the places, then the
  // mean of the places after each turn upward and downward, where the order of readings tells.
  std::optional<double> backlash_m;
  std::optional<double> backlash_up_m;
  std::optional<double> backlash_down_m;
  // What coming down stands beyond coming up at one reading: mean over the places, signed, with its
  // standard uncertainty. The lost motion to correct for.
  std::optional<protocol::Backlash> lost_motion;
  // Standard deviation at one place, reached from one side; of the residuals where nothing repeats.
  double repeatability_m = 0.0;
};

// REQUIRES: kind travel.
TravelPerformance travel_performance(const Calibration& calibration);

}  // namespace calibration
