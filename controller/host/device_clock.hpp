// The rig's clock without its roll-over: 32 bits of microseconds start again after 71.6 minutes.
//
// Each time is taken as the one nearest to the time before, so times may arrive a little out of
// order, and only a silence of more than 35 minutes would be misread.
#pragma once

#include <cstdint>

namespace controller::host {

class DeviceClock {
 public:
  // Microseconds since the first time seen, which is 0. Negative for one from before it.
  int64_t unroll(uint32_t time_us) {
    if (!started_) {
      started_ = true;
      newest_raw_us_ = time_us;
    }
    const auto step_us = static_cast<int32_t>(time_us - newest_raw_us_);
    const int64_t unrolled_us = newest_us_ + step_us;
    if (step_us > 0) {
      newest_us_ = unrolled_us;
      newest_raw_us_ = time_us;
    }
    return unrolled_us;
  }

  int64_t now_us() const { return newest_us_; }

 private:
  bool started_ = false;
  uint32_t newest_raw_us_ = 0;
  int64_t newest_us_ = 0;
};

}  // namespace controller::host
