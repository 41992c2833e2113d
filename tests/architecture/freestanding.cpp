// Everything that the chip shares with the host, as one translation unit, over hardware that is a
// handful of variables. It is compiled by avr-g++ as C++14, and by the host's compiler without
// exceptions and run-time types; what it leaves undefined must be memory helpers alone.
#include "controller/firmware/core/rig.hpp"

volatile uint8_t pins;
volatile uint8_t line;

struct RegisterHal {
  static constexpr uint16_t kTicksPerMs = 10;

  uint8_t inputs() const { return pins; }
  void step(bool high) { pins = high ? 1 : 0; }
  void dir(bool compression) { pins = compression ? 2 : 0; }
  void enable(bool on) { pins = on ? 4 : 0; }
  bool adc_dout() const { return (pins & 8u) != 0; }
  void adc_sck(bool high) { pins = high ? 16 : 0; }
  void settle() {}
  uint8_t irq_off() { return pins; }
  void irq_restore(uint8_t former) { pins = former; }
  uint16_t tx_room() const { return line; }
  void tx(uint8_t byte) { line = byte; }
  bool rx(uint8_t& byte) {
    byte = line;
    return byte != 0;
  }
  void kick() {}
  void idle() {}
};

template class controller::firmware::Rig<RegisterHal>;

RegisterHal hal;
controller::firmware::Rig<RegisterHal> rig(hal, controller::firmware::RigConfig());

void timer_interrupt() {
  rig.on_tick();
}
void pin_interrupt() {
  rig.on_input_edge();
}
void main_loop() {
  rig.begin();
  for (;;) rig.poll();
}

// The host's direction too: what it encodes and decodes needs nothing more either.
bool host_side(protocol::wire::Decoder& decoder, uint8_t byte) {
  protocol::wire::Status status;
  protocol::wire::Sample sample;
  protocol::wire::HelloReply reply;
  if (decoder.feed(byte) != protocol::wire::Verdict::frame) return false;
  return decode(decoder.frame(), status) || decode(decoder.frame(), sample) ||
         decode(decoder.frame(), reply);
}
