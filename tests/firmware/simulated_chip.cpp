#include "tests/firmware/simulated_chip.hpp"

#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>

#include <algorithm>
#include <cstring>
#include <stdexcept>

namespace tests {
namespace {

constexpr int kRamStart = 0x100;
constexpr uint64_t kCyclesPerByte = 320;  // 10 bits at 500 kbaud

void no_sleep(avr_t*, avr_cycle_count_t) {}

void no_log(avr_t*, const int, const char*, va_list) {}

avr_cycle_count_t nothing(avr_t*, avr_cycle_count_t, void*) {
  return 0;
}

avr_uart_t* uart_of(avr_t* avr) {
  for (avr_io_t* io = avr->io_port; io != nullptr; io = io->next) {
    if (std::strcmp(io->kind, "uart") == 0) return reinterpret_cast<avr_uart_t*>(io);
  }
  throw std::runtime_error("the simulated chip has no serial line");
}

}  // namespace

SimulatedChip::SimulatedChip(const std::string& elf_file) {
  avr_global_logger_set(no_log);
  elf_firmware_t firmware{};
  if (elf_read_firmware(elf_file.c_str(), &firmware) != 0) {
    throw std::runtime_error("cannot read " + elf_file);
  }
  avr_ = avr_make_mcu_by_name("atmega328p");
  if (avr_ == nullptr) throw std::runtime_error("the simulator knows no atmega328p");
  avr_init(avr_);
  firmware.frequency = kCyclesPerSecond;
  avr_load_firmware(avr_, &firmware);
  static_used_ = static_cast<int>(firmware.datasize + firmware.bsssize);
  uart_ = uart_of(avr_);
  avr_->custom.data = this;
  own_reset_ = avr_->reset;
  avr_->reset = on_any_reset;
  // It would sleep on the host while the chip does.
  avr_->sleep = no_sleep;
  uint32_t flags = 0;
  avr_ioctl(avr_, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
  flags &= ~static_cast<uint32_t>(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
  avr_ioctl(avr_, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
  avr_irq_register_notify(avr_io_getirq(avr_, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_byte,
                          this);
}

// A reset drops every timer of the simulator, its own speed of the line among them, and leaves it
// to run one cycle at a time; pins forget what drives them.
void SimulatedChip::mind_reset(uint64_t slice_end_cycle) {
  if (!was_reset_) return;
  was_reset_ = false;
  ++resets_;
  avr_->run_cycle_limit = avr_->frequency / 1000;
  avr_cycle_timer_register(avr_, slice_end_cycle > avr_->cycle ? slice_end_cycle - avr_->cycle : 1,
                           nothing, this);
  lowest_stack_ = 0xFFFF;
  waiting_.clear();
  if (on_reset_) on_reset_();
}

void SimulatedChip::on_any_reset(avr_t* avr) {
  auto* const chip = static_cast<SimulatedChip*>(avr->custom.data);
  chip->was_reset_ = true;
  if (chip->own_reset_ != nullptr) chip->own_reset_(avr);
}

SimulatedChip::~SimulatedChip() {
  avr_terminate(avr_);
}

uint64_t SimulatedChip::cycle() const {
  return avr_->cycle;
}

void SimulatedChip::run_to(uint64_t cycle) {
  // Without a timer at its end a slice runs over by what the last instructions take.
  avr_cycle_timer_register(avr_, cycle > avr_->cycle ? cycle - avr_->cycle : 1, nothing, this);
  while (avr_->cycle < cycle) {
    pace_serial_line();
    feed_serial_line();
    const int state = avr_run(avr_);
    mind_reset(cycle);
    if (state == cpu_Done || state == cpu_Crashed) {
      throw std::runtime_error("the program on the chip has crashed");
    }
    look_at_stack();
  }
}

// The simulator counts 11 bits for a byte that has 10.
void SimulatedChip::pace_serial_line() {
  if (uart_->cycles_per_byte > kCyclesPerByte) uart_->cycles_per_byte = kCyclesPerByte;
}

void SimulatedChip::feed_serial_line() {
  if (waiting_.empty() || avr_->cycle < next_byte_cycle_) return;
  const uint8_t byte = waiting_.front();
  waiting_.pop_front();
  next_byte_cycle_ = std::max<uint64_t>(next_byte_cycle_, avr_->cycle) + kCyclesPerByte;
  avr_raise_irq(avr_io_getirq(avr_, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), byte);
}

// The simulator lets the stack grow into the variables.
void SimulatedChip::look_at_stack() {
  const auto pointer = static_cast<uint16_t>(avr_->data[R_SPL] | (avr_->data[R_SPH] << 8));
  if (pointer == 0) return;  // not set up yet
  lowest_stack_ = std::min(lowest_stack_, pointer);
  if (pointer < kRamStart + static_used_) {
    throw std::runtime_error("the stack has grown into the variables");
  }
}

int SimulatedChip::stack_used() const {
  return avr_->ramend - lowest_stack_;
}

void SimulatedChip::watch(char port, int bit, PinWatch watch) {
  watches_.push_back({this, std::move(watch)});
  avr_irq_register_notify(avr_io_getirq(avr_, AVR_IOCTL_IOPORT_GETIRQ(port), bit), on_pin,
                          &watches_.back());
}

// A write to the port's register would overwrite what is driven from outside, so it is said twice:
// as what stands outside, and as a change.
void SimulatedChip::drive(char port, int bit, bool high) {
  const auto index = static_cast<size_t>(port - 'A');
  const auto mask = static_cast<uint8_t>(1u << bit);
  driven_mask_[index] = static_cast<uint8_t>(driven_mask_[index] | mask);
  driven_value_[index] =
      static_cast<uint8_t>(high ? driven_value_[index] | mask : driven_value_[index] & ~mask);
  avr_ioport_external_t external{};
  external.name = static_cast<unsigned char>(port) & 0x7Fu;
  external.mask = driven_mask_[index];
  external.value = driven_value_[index];
  avr_ioctl(avr_, AVR_IOCTL_IOPORT_SET_EXTERNAL(port), &external);
  avr_raise_irq(avr_io_getirq(avr_, AVR_IOCTL_IOPORT_GETIRQ(port), bit), high ? 1 : 0);
}

void SimulatedChip::send(const uint8_t* bytes, size_t count) {
  waiting_.insert(waiting_.end(), bytes, bytes + count);
}

std::vector<uint8_t> SimulatedChip::take_output() {
  std::vector<uint8_t> out;
  out.swap(output_);
  return out;
}

void SimulatedChip::reset() {
  avr_reset(avr_);
}

// A jump to itself in the last word of the flash, and the program counter on it.
void SimulatedChip::hang_main_loop() {
  const avr_flashaddr_t last = avr_->flashend - 1;
  avr_->flash[last] = 0xFF;  // rjmp .-2
  avr_->flash[last + 1] = 0xCF;
  // Not from within an interrupt: it would never end.
  while (avr_->sreg[S_I] == 0) avr_run(avr_);
  avr_->pc = last;
}

void SimulatedChip::on_pin(avr_irq_t*, uint32_t value, void* watched) {
  static_cast<Watched*>(watched)->watch(value != 0);
}

void SimulatedChip::on_byte(avr_irq_t*, uint32_t value, void* chip) {
  static_cast<SimulatedChip*>(chip)->output_.push_back(static_cast<uint8_t>(value));
}

}  // namespace tests
