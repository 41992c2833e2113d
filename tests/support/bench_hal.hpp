// A small world for the rig's core: a carriage between two switches, a load cell, a line, a clock
// of ticks. It obeys and records; the tests judge. Nothing here is the product's virtual rig: the
// physics is one function from carriage to counts.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <vector>

#include "controller/firmware/core/hal.hpp"

namespace test_support {

struct StepEdge {
  int64_t tick;
  int32_t carriage_steps;  // after the step
};

// Template over the tick rate only so that long times can be tested with few ticks.
template <uint16_t TicksPerMs = 10>
struct BenchHal {
  static constexpr uint16_t kTicksPerMs = TicksPerMs;

  // --- The world, for the tests to set and to read ---
  int64_t now_ticks = 0;
  int32_t carriage_steps = 1000;  // truth; the rig does not know it
  int32_t low_switch_steps = 0;   // tripped at and below
  int32_t high_switch_steps = 40000;
  bool low_switch_stuck = false;
  bool high_switch_stuck = false;
  bool emergency_stop = false;
  std::function<int32_t(int32_t carriage_steps)> load_counts = [](int32_t) { return 0; };
  bool load_noise = true;  // a live cell never repeats itself for long
  bool load_cell_present = true;
  int64_t sample_period_ticks = 125 * TicksPerMs / 10;
  uint16_t tx_capacity = 128;
  uint16_t tx_bytes_per_tick = 5;          // 500 kbaud at 10 ticks a millisecond
  std::function<void()> on_interrupts_on;  // stands for an interrupt that waited

  std::vector<StepEdge> edges;
  std::vector<uint8_t> sent;
  std::deque<uint8_t> received;
  bool driver_enabled = false;
  bool compression = true;
  bool irq_is_off = false;
  int steps_while_disabled = 0;
  int direction_changes_while_high = 0;
  int clock_high_with_irq_on = 0;
  int pulses_in_this_lock = 0;
  int most_pulses_in_a_lock = 0;
  int clock_pulses = 0;
  int kicks = 0;
  int idles = 0;

  // One tick of time, before the rig's own.
  void advance() {
    ++now_ticks;
    tx_backlog_ = tx_backlog_ > tx_bytes_per_tick ? tx_backlog_ - tx_bytes_per_tick : 0;
    if (load_cell_present && now_ticks >= next_sample_tick_) {
      next_sample_tick_ = now_ticks + sample_period_ticks;
      converted_ = load_counts(carriage_steps);
      if (load_noise) converted_ += noise();
      ready_ = true;
      pulses_ = 0;
    }
  }

  // --- What the rig calls ---
  uint8_t inputs() const {
    namespace fw = controller::firmware;
    uint8_t inputs = 0;
    if (low_switch_stuck || carriage_steps <= low_switch_steps) inputs |= fw::kInputLimitLow;
    if (high_switch_stuck || carriage_steps >= high_switch_steps) inputs |= fw::kInputLimitHigh;
    if (emergency_stop) inputs |= fw::kInputEmergencyStop;
    return inputs;
  }

  void step(bool high) {
    if (high && !step_high_) {
      if (driver_enabled) {
        carriage_steps += compression ? 1 : -1;
        edges.push_back({now_ticks, carriage_steps});
      } else {
        ++steps_while_disabled;
      }
    }
    step_high_ = high;
  }
  void dir(bool to_compression) {
    if (step_high_ && compression != to_compression) ++direction_changes_while_high;
    compression = to_compression;
  }
  void enable(bool on) { driver_enabled = on; }

  bool adc_dout() const {
    if (!ready_) return true;
    if (pulses_ == 0) return false;
    return ((static_cast<uint32_t>(converted_) >> (24 - pulses_)) & 1u) != 0;
  }
  void adc_sck(bool high) {
    if (high && !clock_high_) {
      if (!irq_is_off) ++clock_high_with_irq_on;
      if (++pulses_in_this_lock > most_pulses_in_a_lock)
        most_pulses_in_a_lock = pulses_in_this_lock;
      ++clock_pulses;
      if (ready_ && ++pulses_ == 25) ready_ = false;
    }
    clock_high_ = high;
  }
  void settle() {}

  uint8_t irq_off() {
    const bool former = irq_is_off;
    if (!former) pulses_in_this_lock = 0;
    irq_is_off = true;
    return former ? 1 : 0;
  }
  void irq_restore(uint8_t former) {
    irq_is_off = former != 0;
    if (!irq_is_off && on_interrupts_on) on_interrupts_on();
  }

  uint16_t tx_room() const {
    return static_cast<uint16_t>(tx_backlog_ < tx_capacity ? tx_capacity - tx_backlog_ : 0);
  }
  void tx(uint8_t byte) {
    ++tx_backlog_;
    sent.push_back(byte);
  }
  bool rx(uint8_t& byte) {
    if (received.empty()) return false;
    byte = received.front();
    received.pop_front();
    return true;
  }
  void kick() { ++kicks; }
  void idle() { ++idles; }

 private:
  // -2..2, from a small generator with a fixed start.
  int32_t noise() {
    noise_ = noise_ * 1103515245u + 12345u;
    return static_cast<int32_t>((noise_ >> 16) % 5u) - 2;
  }

  int64_t next_sample_tick_ = 50 * TicksPerMs;  // the converter settles first
  int32_t converted_ = 0;
  int pulses_ = 0;
  int tx_backlog_ = 0;
  uint32_t noise_ = 1;
  bool ready_ = false;
  bool clock_high_ = false;
  bool step_high_ = false;
};

}  // namespace test_support
