// Stops the rig when a sample lies outside the force limits.
//
// A rig that stands under an overload must still be able to leave it, and which way the counts go
// depends on how the cell is wired. So a homing or a jog may start outside the limits, and is
// stopped as soon as the excess grows by more than a little; as it shrinks, the limit follows it
// down. Main loop only.
#pragma once

#include <stdint.h>

#include "protocol/wire/codes.hpp"

namespace controller {
namespace firmware {

class ForceGuard {
 public:
  void set_limits(int32_t low_counts, int32_t high_counts) {
    low_counts_ = low_counts;
    high_counts_ = high_counts;
    // Room for noise and for the friction that turns round at the start of a retreat.
    margin_counts_ = (high_counts - low_counts) / 64 + 16;
    restore();
  }

  bool outside(int32_t raw_counts) const {
    return raw_counts < low_counts_ || raw_counts > high_counts_;
  }

  // A motion starts from this reading. Only a retreat may start outside.
  void begin(int32_t raw_counts) {
    restore();
    follow(raw_counts);
  }

  // RETURNS false when the motion must stop.
  bool sample(int32_t raw_counts) {
    if (raw_counts < low_now_counts_ || raw_counts > high_now_counts_) return false;
    const int32_t low_before = low_now_counts_;
    const int32_t high_before = high_now_counts_;
    restore();
    follow(raw_counts);
    if (low_now_counts_ < low_before) low_now_counts_ = low_before;
    if (high_now_counts_ > high_before) high_now_counts_ = high_before;
    return true;
  }

 private:
  void restore() {
    low_now_counts_ = low_counts_;
    high_now_counts_ = high_counts_;
  }

  void follow(int32_t raw_counts) {
    if (raw_counts > high_counts_) high_now_counts_ = raw_counts + margin_counts_;
    if (raw_counts < low_counts_) low_now_counts_ = raw_counts - margin_counts_;
  }

  int32_t low_counts_ = protocol::wire::kCountsMin;
  int32_t high_counts_ = protocol::wire::kCountsMax;
  int32_t low_now_counts_ = protocol::wire::kCountsMin;
  int32_t high_now_counts_ = protocol::wire::kCountsMax;
  int32_t margin_counts_ = 0;
};

}  // namespace firmware
}  // namespace controller
