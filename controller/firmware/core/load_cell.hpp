// Reading the 24-bit load-cell converter, and telling a sick one from a sound one.
#pragma once

#include <stdint.h>

#include "controller/firmware/core/hal.hpp"
#include "protocol/wire/codes.hpp"

namespace controller {
namespace firmware {

// Clocks one conversion out. REQUIRES: adc_dout() is low.
// Each clock-high phase runs with interrupts off: over 60 us high the converter powers down, and an
// interrupt in the middle could stretch it. Between the bits interrupts are welcome.
template <class Hal>
int32_t read_load_cell(Hal& hal) {
  constexpr uint8_t kDataBits = 24;
  uint32_t bits = 0;
  for (uint8_t pulse = 0; pulse <= kDataBits; ++pulse) {  // the 25th: same channel and gain again
    IrqLock<Hal> lock(hal);
    hal.adc_sck(true);
    hal.settle();
    const bool high = hal.adc_dout();
    hal.adc_sck(false);
    if (pulse < kDataBits) bits = (bits << 1) | (high ? 1u : 0u);
  }
  return bits < 0x800000u ? static_cast<int32_t>(bits)
                          : static_cast<int32_t>(bits) - int32_t{0x1000000};
}

// A converter can be missing, saturated, or stuck on one value. Main loop only.
class LoadCellHealth {
 public:
  LoadCellHealth(uint16_t missing_ms, uint16_t frozen_samples)
      : missing_ms_(missing_ms), frozen_samples_(frozen_samples) {}

  // A conversion came. RETURNS the faults it shows.
  uint16_t sample(int32_t raw_counts) {
    const bool same = has_reading_ && raw_counts == raw_counts_;
    if (!same) same_ = 0;
    if (same_ < frozen_samples_) ++same_;
    raw_counts_ = raw_counts;
    has_reading_ = true;
    silence_ms_ = 0;
    if (raw_counts <= protocol::wire::kCountsMin || raw_counts >= protocol::wire::kCountsMax) {
      return protocol::wire::kFaultLoadCellSaturated;
    }
    return same_ >= frozen_samples_ ? protocol::wire::kFaultLoadCellFrozen : uint16_t{0};
  }

  // A millisecond passed. RETURNS the faults it shows.
  uint16_t millisecond() {
    // Out of reset the converter needs up to 400 ms to settle before it first speaks.
    const uint16_t patience_ms = has_reading_ ? missing_ms_ : kFirstReadingMs;
    if (silence_ms_ < patience_ms) {
      ++silence_ms_;
      return 0;
    }
    return protocol::wire::kFaultLoadCellMissing;
  }

  // The operator cleared the faults: judge afresh.
  void forgive() {
    same_ = 0;
    silence_ms_ = 0;
  }

  bool has_reading() const { return has_reading_; }
  int32_t raw_counts() const { return raw_counts_; }

 private:
  static constexpr uint16_t kFirstReadingMs = 1000;

  uint16_t missing_ms_;
  uint16_t frozen_samples_;
  uint16_t silence_ms_ = 0;
  uint16_t same_ = 0;  // how many samples in a row had this value
  int32_t raw_counts_ = 0;
  bool has_reading_ = false;
};

}  // namespace firmware
}  // namespace controller
