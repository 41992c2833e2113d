// What a load cell does beside its curve, in the words of a test report: how far it bends, how much
// more it says coming down, how well it repeats, whether it finds back to zero.
//
// Every force here is as the bench shows it: the curve's value less that of the unloaded reading
// that its series began with. Accuracy q, repeatability b and reversibility v are in percent of the
// load, after the definitions of ISO 7500-1; the rest is in percent of full scale, as load cells
// are sold.
#pragma once

#include <optional>
#include <vector>

#include "calibration/calibration.hpp"

namespace calibration {

struct LoadPoint {
  double load_N = 0.0;
  double accuracy_percent = 0.0;                // q, mean of the ascending series
  double repeatability_percent = 0.0;           // b, spread of q between them; 0 for one series
  std::optional<double> reversibility_percent;  // v, largest of the series, with its sign
  std::optional<double> resolution_percent;     // a, where the readings' step is known
  int series = 0;                               // that reached this load ascending
};

struct ForcePerformance {
  std::vector<LoadPoint> points;  // ascending by load, zero left out
  double full_scale_N = 0.0;      // the largest load
  // Of the mean ascending reading against the straight line through its ends; largest, signed.
  double non_linearity_percent = 0.0;
  // Mean descending less mean ascending reading at one load; largest, signed.
  std::optional<double> hysteresis_percent;
  std::optional<double> zero_return_percent;  // f0; largest, signed
  double repeatability_percent = 0.0;         // largest spread of ascending readings at one load
  int series = 0;
  std::optional<double> creep_percent;  // of its load, first to last reading
};

// REQUIRES: kind force.
ForcePerformance force_performance(const Calibration& calibration);

}  // namespace calibration
