// The pins of the rig, on the host: what the firmware's core runs on in place of a chip.
//
// There is no interrupt here: ticks and main loop are called in turn from one thread.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <vector>

#include "controller/firmware/core/hal.hpp"
#include "controller/virtual_rig/converter.hpp"

namespace controller::virtual_rig {

// Steps and switches of the press. Step 0 is the carriage at the fork's top-out.
struct PressMechanics {
  int64_t steps = 0;
  int64_t low_switch_steps = 0;
  int64_t high_switch_steps = 0;
  int64_t steps_to_lose = 0;  // edges that will move nothing: the motor stalls
  uint8_t forced_inputs = 0;  // tripped whatever the carriage does
  uint8_t dead_inputs = 0;    // never tripped: a welded contact
  bool compression = true;
  bool powered = false;

  void step() {
    if (!powered) return;
    if (steps_to_lose > 0) {
      --steps_to_lose;
      return;
    }
    steps += compression ? 1 : -1;
  }

  void kill_inputs(uint8_t bits) { dead_inputs = static_cast<uint8_t>(dead_inputs | bits); }

  uint8_t inputs() const {
    uint8_t bits = forced_inputs;
    if (steps <= low_switch_steps) bits = static_cast<uint8_t>(bits | firmware::kInputLimitLow);
    if (steps >= high_switch_steps) bits = static_cast<uint8_t>(bits | firmware::kInputLimitHigh);
    return static_cast<uint8_t>(bits & ~dead_inputs);
  }
};

// A serial port's two buffers, emptied and filled at the line's speed.
class SerialBuffers {
 public:
  static constexpr uint16_t kBuffer_bytes = 128;
  static constexpr size_t kBytesPerMs = 50;  // 500 kbaud, 8N1

  // The chip's side.
  uint16_t room() const { return static_cast<uint16_t>(kBuffer_bytes - sending_.size()); }
  void send(uint8_t byte) {
    if (sending_.size() < kBuffer_bytes) sending_.push_back(byte);
  }
  bool receive(uint8_t& byte) {
    if (arrived_ == 0) return false;
    byte = receiving_.front();
    receiving_.pop_front();
    --arrived_;
    return true;
  }

  // The line's side. RETURNS what went out in this millisecond, appended to `out`.
  void pass_ms(std::vector<uint8_t>& out) {
    const size_t gone = std::min(sending_.size(), kBytesPerMs);
    out.insert(out.end(), sending_.begin(), sending_.begin() + static_cast<std::ptrdiff_t>(gone));
    sending_.erase(sending_.begin(), sending_.begin() + static_cast<std::ptrdiff_t>(gone));
    arrived_ = std::min(receiving_.size(), arrived_ + kBytesPerMs);
  }
  void arrive(const uint8_t* bytes, size_t count) {
    receiving_.insert(receiving_.end(), bytes, bytes + count);
  }
  size_t waiting() const { return receiving_.size(); }
  void let_all_arrive() { arrived_ = receiving_.size(); }
  void clear() { *this = SerialBuffers(); }

 private:
  std::vector<uint8_t> sending_;
  std::deque<uint8_t> receiving_;
  size_t arrived_ = 0;  // of receiving_, what the chip may read already
};

struct HostHal {
  static constexpr uint16_t kTicksPerMs = 10;

  uint8_t inputs() const { return mechanics.inputs(); }
  void step(bool high) {
    if (high && !step_pin) mechanics.step();
    step_pin = high;
  }
  void dir(bool compression) { mechanics.compression = compression; }
  void enable(bool on) { mechanics.powered = on; }
  bool adc_dout() const { return converter.data(); }
  void adc_sck(bool high) { converter.clock(high); }
  void settle() {}
  uint8_t irq_off() { return 0; }
  void irq_restore(uint8_t) {}
  uint16_t tx_room() const { return serial.room(); }
  void tx(uint8_t byte) { serial.send(byte); }
  bool rx(uint8_t& byte) { return serial.receive(byte); }
  void kick() {}
  void idle() {}

  PressMechanics mechanics;
  Converter converter;
  SerialBuffers serial;
  bool step_pin = false;
};

}  // namespace controller::virtual_rig
