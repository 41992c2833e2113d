// Whether the motor lost steps since the rig was homed: homed again, the rig counts from the switch
// anew, and its samples tell by how much the count jumped.
//
// On the slow way to the switch and off it the carriage cannot have gone faster from one sample to
// the next than its acceleration allows; what is more than that is the new count.
#pragma once

#include <cstdint>
#include <cstdlib>
#include <optional>

#include "controller/host/sample_stream.hpp"

namespace controller::host {

class ZeroShift {
 public:
  // Rounding to steps, and a sample that was taken a little late.
  static constexpr double kSlack_steps = 8.0;

  explicit ZeroShift(double acceleration_steps_per_s2)
      : acceleration_steps_per_s2_(acceleration_steps_per_s2) {}

  // Each sample in its order while the rig homes.
  void take(const TimedSample& sample) {
    if (last_ && sample.number == last_->number + 1) {
      const int32_t moved = sample.position_steps - last_->position_steps;
      const double period_s = static_cast<double>(sample.time_us - last_->time_us) * 1e-6;
      // Half a period early and half a period late each count once.
      const double faster = 2.0 * acceleration_steps_per_s2_ * period_s * period_s;
      if (last_moved_ && std::abs(moved) > std::abs(*last_moved_) + faster + kSlack_steps) {
        steps_ = moved;
      }
      last_moved_ = moved;
    } else {
      last_moved_.reset();
    }
    last_ = sample;
  }

  // How far the count jumped; 0: not more than could be told from motion.
  int32_t steps() const { return steps_; }

 private:
  double acceleration_steps_per_s2_;
  std::optional<TimedSample> last_;
  std::optional<int32_t> last_moved_;
  int32_t steps_ = 0;
};

}  // namespace controller::host
