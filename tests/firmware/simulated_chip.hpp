// The real binary for the chip in a cycle-accurate simulator, with its pins and its serial line in
// reach. Time is cycles; nothing here knows a clock or a thread, so that a run repeats exactly.
//
// The ways round the simulator's known faults stand where they are taken, each with what it mends.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <string>
#include <vector>

struct avr_t;
struct avr_irq_t;
struct avr_uart_t;

namespace tests {

inline constexpr uint64_t kCyclesPerSecond = 16000000;
inline constexpr uint64_t kCyclesPerMs = kCyclesPerSecond / 1000;
// The simulator enters an interrupt in no time, the chip in four cycles and a jump of three.
inline constexpr uint64_t kInterruptEntryCycles = 7;

class SimulatedChip {
 public:
  // Called at the cycle of the change.
  using PinWatch = std::function<void(bool high)>;

  // Throws std::runtime_error where the file cannot be read.
  explicit SimulatedChip(const std::string& elf_file);
  ~SimulatedChip();
  SimulatedChip(const SimulatedChip&) = delete;
  SimulatedChip& operator=(const SimulatedChip&) = delete;

  uint64_t cycle() const;
  // REQUIRES: not in the past. Throws std::runtime_error where the program has crashed or its stack
  // has grown into its variables.
  void run_to(uint64_t cycle);

  // As by its supply that dips: the program starts anew, what was on the line is lost.
  void reset();
  // The main loop never comes back from where it is; interrupts go on. The watchdog is left.
  void hang_main_loop();
  // Called when the chip has reset, by whatever: its pins are to be driven again.
  void set_on_reset(std::function<void()> on_reset) { on_reset_ = std::move(on_reset); }
  int resets() const { return resets_; }

  void watch(char port, int bit, PinWatch watch);
  void drive(char port, int bit, bool high);

  // The serial line: one byte takes 20 us either way.
  void send(const uint8_t* bytes, size_t count);
  std::vector<uint8_t> take_output();
  bool sending() const { return !waiting_.empty(); }

  // The deepest that the stack has been, and the static memory, in bytes.
  int stack_used() const;
  int static_used() const { return static_used_; }

 private:
  struct Watched {
    SimulatedChip* chip;
    PinWatch watch;
  };

  static void on_pin(avr_irq_t* irq, uint32_t value, void* watched);
  static void on_byte(avr_irq_t* irq, uint32_t value, void* chip);
  static void on_any_reset(avr_t* avr);
  void mind_reset(uint64_t slice_end_cycle);
  void pace_serial_line();
  void feed_serial_line();
  void look_at_stack();

  avr_t* avr_ = nullptr;
  avr_uart_t* uart_ = nullptr;
  std::deque<Watched> watches_;
  std::deque<uint8_t> waiting_;
  uint64_t next_byte_cycle_ = 0;
  std::vector<uint8_t> output_;
  uint8_t driven_mask_[26] = {};
  uint8_t driven_value_[26] = {};
  std::function<void()> on_reset_;
  void (*own_reset_)(avr_t*) = nullptr;  // the simulator's
  bool was_reset_ = false;
  int resets_ = 0;
  int static_used_ = 0;
  uint16_t lowest_stack_ = 0xFFFF;
};

}  // namespace tests
