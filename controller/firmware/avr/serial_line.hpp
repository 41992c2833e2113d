// The serial line's two ring buffers between interrupts and main loop, 500 kbaud 8N1.
//
// At 16 MHz the divider is exact; 115200 baud would be off by 2.1 %, 230400 by 3.5 %.
#pragma once

#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdint.h>

namespace controller {
namespace firmware {

// Single producer, single consumer; one of them an interrupt. Indices are one byte, so that reading
// and writing them is one instruction.
template <uint8_t Size>
class ByteRing {
 public:
  static_assert((Size & (Size - 1)) == 0, "a power of two");

  bool put(uint8_t byte) {
    const uint8_t next = static_cast<uint8_t>((head_ + 1) & (Size - 1));
    if (next == tail_) return false;
    bytes_[head_] = byte;
    head_ = next;
    return true;
  }
  bool take(uint8_t& byte) {
    if (tail_ == head_) return false;
    byte = bytes_[tail_];
    tail_ = static_cast<uint8_t>((tail_ + 1) & (Size - 1));
    return true;
  }
  uint8_t room() const { return static_cast<uint8_t>((tail_ - head_ - 1) & (Size - 1)); }

 private:
  volatile uint8_t head_ = 0;
  volatile uint8_t tail_ = 0;
  volatile uint8_t bytes_[Size] = {};
};

class SerialLine {
 public:
  void begin() {
    constexpr uint32_t kBaud = 500000;
    constexpr uint32_t kDivider = F_CPU / 8 / kBaud;
    static_assert(kDivider * 8 * kBaud == F_CPU, "the baud rate must divide the clock");
    UCSR0A = 1u << U2X0;
    UBRR0 = kDivider - 1;
    UCSR0C = (1u << UCSZ01) | (1u << UCSZ00);
    UCSR0B = (1u << RXCIE0) | (1u << RXEN0) | (1u << TXEN0);
  }

  // Main loop.
  uint16_t room() const { return sending_.room(); }
  void send(uint8_t byte) {
    sending_.put(byte);
    // Read, changed and written in three steps: the interrupt that clears the bit must not come
    // between.
    const uint8_t former = SREG;
    cli();
    UCSR0B |= 1u << UDRIE0;
    SREG = former;
  }
  bool receive(uint8_t& byte) { return received_.take(byte); }

  // Interrupts. A byte that finds no room is lost; the frame's CRC then tells.
  void on_received() { received_.put(UDR0); }
  void on_empty() {
    uint8_t byte;
    if (sending_.take(byte)) {
      UDR0 = byte;
    } else {
      UCSR0B &= static_cast<uint8_t>(~(1u << UDRIE0));
    }
  }

 private:
  ByteRing<128> sending_;
  ByteRing<64> received_;
};

}  // namespace firmware
}  // namespace controller
