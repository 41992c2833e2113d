// Whether a reading stands still long enough to be written down, and if not, why.
//
// Everything is measured against the usual noise, the scatter of single samples of the unloaded
// cell. Before that is known, and for an instrument without noise, the scatter of the window's own
// neighbours serves, or one step of the display where that is larger.
//
//   spike       a sample further than 8 x noise from the median of the window
//   drifting    a straight line through the window changes by more than 2 x noise from end to end
//   scattered   standard deviation above 2 x noise
//
// Of 80 samples of normal noise the line's change scatters by 0.39 x noise and the deviation by
// 8 %, so that a quiet reading is refused about once in three million.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace calibration {

struct WindowSample {
  double time_s = 0.0;
  double reading = 0.0;
};

enum class Steadiness { stable, too_few, saturated, spike, drifting, scattered };

struct StabilityRules {
  std::optional<double> noise;  // standard deviation of one sample, unloaded
  double step = 1.0;            // of the display or converter
  double lowest = -8388608.0;   // at or beyond these it is saturated
  double highest = 8388607.0;
  std::string unit = "counts";
};

struct Stability {
  Steadiness verdict = Steadiness::too_few;
  std::string reason;  // a sentence; empty where stable
  double mean = 0.0;
  double standard_deviation = 0.0;  // of one sample
  double noise = 0.0;               // what it was measured against
  double standard_error = 0.0;      // of the mean, from that noise
  double unsteadiness = 0.0;        // worst of its quantities against its limit; to 1 it is stable
  bool is_stable() const { return verdict == Steadiness::stable; }
};

inline constexpr size_t kWindowSamplesMin = 20;
inline constexpr double kSpikeLimit = 8.0;
inline constexpr double kDriftLimit = 2.0;
inline constexpr double kScatterLimit = 2.0;

Stability judge_stability(const std::vector<WindowSample>& window, const StabilityRules& rules);

}  // namespace calibration
