// The load cell's converter as the chip sees it: a data pin that falls when a conversion is ready,
// and a clock pin that shifts it out.
#pragma once

#include <cstdint>

namespace controller::virtual_rig {

class Converter {
 public:
  // A conversion has ended. One that comes while the former is being read is lost, as on the chip.
  void offer(int32_t counts) {
    if (pulses_ != 0) return;
    word_ = static_cast<uint32_t>(counts) & 0xFFFFFFu;
    ready_ = true;
  }

  bool data() const {
    if (pulses_ == 0) return !ready_;
    return pulses_ <= kBits ? ((word_ >> (kBits - pulses_)) & 1u) != 0 : true;
  }

  // A rising edge shows the next bit; the falling edge behind the 25th ends the reading.
  void clock(bool high) {
    if (high == clock_) return;
    clock_ = high;
    if (high) {
      ++pulses_;
    } else if (pulses_ > kBits) {
      pulses_ = 0;
      ready_ = false;
    }
  }

 private:
  static constexpr int kBits = 24;

  uint32_t word_ = 0;
  int pulses_ = 0;
  bool ready_ = false;
  bool clock_ = false;
};

}  // namespace controller::virtual_rig
