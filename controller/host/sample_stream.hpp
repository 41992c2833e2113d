// The samples of a rig on their way from the line to whoever uses them: one bounded queue, and an
// eye on their running number, so that a lost one is counted and located and never joined over.
#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

#include "controller/host/device_clock.hpp"
#include "controller/host/link.hpp"
#include "protocol/wire/replies.hpp"

namespace controller::host {

struct TimedSample {
  uint32_t number = 0;
  int64_t time_us = 0;  // the rig's clock, unrolled
  int32_t position_steps = 0;
  int32_t load_counts = 0;
  uint16_t flags = 0;
  HostTime arrived{0};
};

// Samples that the line lost.
struct SampleGap {
  uint32_t first_number = 0;
  uint32_t samples = 0;
  int64_t after_time_us = 0;  // of the last sample before
};

class SampleStream {
 public:
  // Six seconds of samples: whoever does not come for them in that time never will.
  static constexpr size_t kQueueMax = 512;
  // So many gaps are located; further ones are only counted.
  static constexpr size_t kGapsMax = 100;

  // A new run of numbers begins with the next sample.
  void restart() {
    has_last_ = false;
    queue_.clear();
  }

  void accept(const protocol::wire::Sample& sample, int64_t time_us, HostTime now) {
    if (has_last_) {
      const uint32_t step = sample.number - last_number_;
      if (step == 0 || step > 0x80000000u) return;  // from before: seen already
      if (step > 1) note_gap(step - 1);
    }
    has_last_ = true;
    last_number_ = sample.number;
    last_time_us_ = time_us;
    last_arrived_ = now;
    if (queue_.size() == kQueueMax) {
      ++overflowed_;
      return;
    }
    queue_.push_back(
        {sample.number, time_us, sample.position_steps, sample.load_counts, sample.flags, now});
  }

  std::optional<TimedSample> take() {
    if (queue_.empty()) return std::nullopt;
    const TimedSample sample = queue_.front();
    queue_.pop_front();
    return sample;
  }

  uint64_t lost() const { return lost_; }
  uint64_t overflowed() const { return overflowed_; }
  const std::vector<SampleGap>& gaps() const { return gaps_; }
  int64_t last_time_us() const { return last_time_us_; }
  HostTime last_arrived() const { return last_arrived_; }

 private:
  void note_gap(uint32_t samples) {
    lost_ += samples;
    if (gaps_.size() < kGapsMax) gaps_.push_back({last_number_ + 1, samples, last_time_us_});
  }

  std::deque<TimedSample> queue_;
  std::vector<SampleGap> gaps_;
  uint64_t lost_ = 0;
  uint64_t overflowed_ = 0;
  bool has_last_ = false;
  uint32_t last_number_ = 0;
  int64_t last_time_us_ = 0;
  HostTime last_arrived_{0};
};

}  // namespace controller::host
