// The core's hardware on an ATmega328P at 16 MHz: pins, serial line, tick, watchdog.
#pragma once

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <stdint.h>

#include "controller/firmware/avr/pins.hpp"
#include "controller/firmware/avr/serial_line.hpp"

namespace controller {
namespace firmware {

struct AvrHal {
  static constexpr uint16_t kTicksPerMs = 10;

  // Pins first, so that the driver is off whatever comes later. Interrupts stay off.
  void begin() {
    PORTD = pins::kNotEnable;
    DDRD = pins::kStep | pins::kDirection | pins::kNotEnable;
    DDRB = pins::kConverterClock;
    PORTC = pins::kInputs;  // pull-ups
    serial.begin();
    PCMSK1 = pins::kInputs;
    PCICR = 1u << PCIE1;
    // Clear on compare match, clock / 8: a tick every 200 counts.
    constexpr uint16_t kCounts = F_CPU / 8 / (1000ul * kTicksPerMs);
    static_assert(kCounts * 8ul * 1000ul * kTicksPerMs == F_CPU, "a tick must be exact");
    TCCR1A = 0;
    OCR1A = kCounts - 1;
    TCCR1B = (1u << WGM12) | (1u << CS11);
    TIMSK1 = 1u << OCIE1A;
    wdt_enable(WDTO_120MS);
  }

  uint8_t inputs() const { return PINC & pins::kInputs; }

  // Single bits of the lower ports: one instruction each, so that no interrupt comes between.
  void step(bool high) { put(PORTD, pins::kStep, high); }
  void dir(bool compression) { put(PORTD, pins::kDirection, compression); }
  void enable(bool on) { put(PORTD, pins::kNotEnable, !on); }

  bool adc_dout() const { return (PINC & pins::kConverterData) != 0; }
  void adc_sck(bool high) { put(PORTB, pins::kConverterClock, high); }
  // Four cycles of 62.5 ns.
  void settle() { __asm__ __volatile__("nop\n\tnop\n\tnop\n\tnop"); }

  uint8_t irq_off() {
    const uint8_t former = SREG;
    cli();
    __asm__ __volatile__("" ::: "memory");
    return former;
  }
  void irq_restore(uint8_t former) {
    __asm__ __volatile__("" ::: "memory");
    SREG = former;
  }

  uint16_t tx_room() const { return serial.room(); }
  void tx(uint8_t byte) { serial.send(byte); }
  bool rx(uint8_t& byte) { return serial.receive(byte); }

  void kick() { wdt_reset(); }
  // Awake: a sleep would save nothing beside a motor, and the loop is what watches the load cell.
  void idle() {}

  SerialLine serial;

 private:
  static void put(volatile uint8_t& port, uint8_t bit, bool high) __attribute__((always_inline)) {
    if (high) {
      port |= bit;
    } else {
      port &= static_cast<uint8_t>(~bit);
    }
  }
};

}  // namespace firmware
}  // namespace controller
