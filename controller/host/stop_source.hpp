// Where a stop by the operator comes from: a key, a button on a page, a test.
//
// Whoever waits for the rig looks here at least every 50 ms, and a stop overtakes every request.
#pragma once

#include <atomic>

namespace controller::host {

enum class StopLevel {
  none,
  stop,  // decelerate, keep the position, close the record
  halt,  // no further step
};

class StopSource {
 public:
  virtual ~StopSource() = default;
  // Never goes back. Does not block.
  virtual StopLevel level() = 0;
};

// Raised from any thread.
class StopFlag final : public StopSource {
 public:
  StopLevel level() override { return level_.load(); }
  void raise(StopLevel level) {
    StopLevel before = level_.load();
    while (before < level && !level_.compare_exchange_weak(before, level)) {
    }
  }

 private:
  std::atomic<StopLevel> level_{StopLevel::none};
};

}  // namespace controller::host
