// The rig's firmware on an ATmega328P: the core, its interrupts, its main loop.
#include <avr/eeprom.h>

#include "controller/firmware/avr/avr_hal.hpp"
#include "controller/firmware/core/rig.hpp"

namespace {

using controller::firmware::AvrHal;
using controller::firmware::Rig;
using controller::firmware::RigConfig;

// A rig is named by the first bytes of its EEPROM; an erased one has the name below.
constexpr uint8_t kUnnamed[protocol::wire::kRigIdSize] = {'R', 'I', 'G', '-', 'N', 'E', 'W', 0};
constexpr uint8_t kErased = 0xFF;

RigConfig read_config() {
  RigConfig config;
  eeprom_read_block(config.id, nullptr, sizeof config.id);
  if (config.id[0] == kErased) {
    for (uint8_t i = 0; i < sizeof config.id; ++i) config.id[i] = kUnnamed[i];
  }
  return config;
}

AvrHal hal;
Rig<AvrHal> rig(hal, read_config());

}  // namespace

// After a watchdog reset the watchdog still runs, at its shortest: off, before anything takes time.
extern "C" void stop_watchdog() __attribute__((naked, used, section(".init3")));
extern "C" void stop_watchdog() {
  MCUSR = 0;
  wdt_disable();
}

ISR(TIMER1_COMPA_vect) {
  rig.on_tick();
}
ISR(PCINT1_vect) {
  rig.on_input_edge();
}
ISR(USART_RX_vect) {
  hal.serial.on_received();
}
ISR(USART_UDRE_vect) {
  hal.serial.on_empty();
}

int main() {
  hal.begin();
  rig.begin();
  sei();
  for (;;) rig.poll();
}
