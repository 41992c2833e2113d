// What the rig asks of the hardware under it.
//
// The core is a template over this, so that the chip pays nothing for it and a test or the virtual
// rig can stand in. There is no base class to derive from; a Hal is any type with these members:
//
//   struct Hal {
//     // Calls of Rig::on_tick() per millisecond. 1000 is a multiple of it, so that a tick is a
//     // whole number of microseconds; time is ticks, there is no other clock.
//     static constexpr uint16_t kTicksPerMs = 10;
//
//     // Bits below; set = tripped. Switches are normally closed, so a broken wire is tripped.
//     // Called from interrupts and from the main loop; must not block.
//     uint8_t inputs();
//
//     // The driver's pins. step: a rising edge is one step. dir: true is compression, and at
//     // least one tick passes before the next step edge. Called from interrupts too.
//     void step(bool high);
//     void dir(bool compression);
//     void enable(bool on);
//
//     // The load-cell converter: dout low = a conversion is ready; each clock pulse shifts out
//     // the next of 24 bits, most significant first, and a 25th ends the reading. settle()
//     // waits at least 0.2 us. Main loop only, clock-high phases with interrupts off.
//     bool adc_dout();
//     void adc_sck(bool high);
//     void settle();
//
//     // Interrupts off, returning what restores the former state. Both are compiler barriers.
//     uint8_t irq_off();
//     void irq_restore(uint8_t former);
//
//     // The serial line. tx_room: bytes that tx() takes now without blocking. rx: false when
//     // nothing has come. Main loop only.
//     uint16_t tx_room();
//     void tx(uint8_t byte);
//     bool rx(uint8_t& byte);
//
//     // Once per poll(): kick() the hardware watchdog; idle() may sleep until an interrupt.
//     void kick();
//     void idle();
//   };
//
// Who calls the rig: on_tick() from the timer interrupt, kTicksPerMs times a millisecond;
// on_input_edge() from an interrupt on any change of the inputs; poll() from the main loop as
// often as it can, at least every 10 ms. The two interrupts do not interrupt each other.
#pragma once

#include <stdint.h>

#include "protocol/wire/codes.hpp"

namespace controller {
namespace firmware {

constexpr uint8_t kInputLimitLow = 1u << 0;   // at the extended end
constexpr uint8_t kInputLimitHigh = 1u << 1;  // at the compressed end
constexpr uint8_t kInputEmergencyStop = 1u << 2;

// The fault that each tripped input stands for.
inline uint16_t faults_of(uint8_t inputs) {
  namespace wire = protocol::wire;
  uint16_t faults = 0;
  if (inputs & kInputLimitLow) faults |= wire::kFaultLimitLow;
  if (inputs & kInputLimitHigh) faults |= wire::kFaultLimitHigh;
  if (inputs & kInputEmergencyStop) faults |= wire::kFaultEmergencyStop;
  return faults;
}

// Interrupts are off while it lives. What interrupts and main loop share is touched only so.
template <class Hal>
class IrqLock {
 public:
  explicit IrqLock(Hal& hal) : hal_(hal), former_(hal.irq_off()) {}
  ~IrqLock() { hal_.irq_restore(former_); }
  IrqLock(const IrqLock&) = delete;
  IrqLock& operator=(const IrqLock&) = delete;

 private:
  Hal& hal_;
  uint8_t former_;
};

}  // namespace firmware
}  // namespace controller
