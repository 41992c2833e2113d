// A load cell that never was and an operator who does as they are told, for guided sessions.
#pragma once

#include <random>
#include <vector>

#include "calibration/guided/session.hpp"

namespace calibration_test {

class GuidedCell {
 public:
  explicit GuidedCell(unsigned seed) : generator_(seed) {}

  static constexpr double kCounts_kg = 8200.0;
  static constexpr double kZero_counts = 41000.0;
  static constexpr double kNoise_counts = 900.0;

  // One second of 80 samples under this load; `drift_counts` from end to end.
  std::vector<calibration::WindowSample> window(double load_kg, double drift_counts = 0.0) {
    std::normal_distribution<double> noise(0.0, kNoise_counts);
    std::vector<calibration::WindowSample> out;
    for (int i = 0; i < 80; ++i) {
      out.push_back({i / 80.0, kZero_counts + kCounts_kg * load_kg + drift_counts * i / 80.0 +
                                   noise(generator_)});
    }
    return out;
  }

 private:
  std::mt19937 generator_;
};

inline calibration::GuidedPlan weights_plan() {
  calibration::GuidedPlan plan;
  plan.loads = {0.0, 5.0, 10.0, 20.0};
  return plan;
}

inline calibration::GuidedSession begun(const calibration::GuidedPlan& plan) {
  return calibration::GuidedSession::start(plan).value();
}

}  // namespace calibration_test
