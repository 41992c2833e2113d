// Where the wires go on an ATmega328P. The one place to change for another board.
//
//   PC0  limit switch at the extended end
//   PC1  limit switch at the compressed end
//   PC2  emergency stop
//        These three are closed to ground when all is well, with internal pull-ups: an open contact
//        or a broken wire reads high, which is tripped.
//   PC3  load-cell converter, data
//   PB0  load-cell converter, clock
//   PD5  driver, step
//   PD6  driver, direction: high is compression
//   PD7  driver, enable, active low; an external pull-up keeps the driver off while the chip starts
//   PD0, PD1  serial line, 500 kbaud 8N1
//
// Nothing but inputs is on port C, and its pin-change interrupt is the inputs' alone.
#pragma once

#include <avr/io.h>
#include <stdint.h>

#include "controller/firmware/core/hal.hpp"

namespace controller {
namespace firmware {
namespace pins {

constexpr uint8_t kLimitLow = 1u << PC0;
constexpr uint8_t kLimitHigh = 1u << PC1;
constexpr uint8_t kEmergencyStop = 1u << PC2;
constexpr uint8_t kInputs = kLimitLow | kLimitHigh | kEmergencyStop;
constexpr uint8_t kConverterData = 1u << PC3;
constexpr uint8_t kConverterClock = 1u << PB0;
constexpr uint8_t kStep = 1u << PD5;
constexpr uint8_t kDirection = 1u << PD6;
constexpr uint8_t kNotEnable = 1u << PD7;

// The pins were chosen so that a reading of port C is the core's own set of bits.
static_assert(kLimitLow == kInputLimitLow && kLimitHigh == kInputLimitHigh &&
                  kEmergencyStop == kInputEmergencyStop,
              "inputs() passes the port's bits on");

}  // namespace pins
}  // namespace firmware
}  // namespace controller
