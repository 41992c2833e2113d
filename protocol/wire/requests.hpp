// What the host asks of the rig. Plain integers; units stand in the names. Positive steps and
// positive direction are compression.
//
// Every request but heartbeat is answered: hello by a hello reply, the others by an ack with the
// request's sequence number. A request repeated with the same number is answered again and not
// carried out again.
#pragma once

#include <stdint.h>

#include "protocol/wire/codes.hpp"

namespace protocol {
namespace wire {

// Opens a session. Ends whatever ran: motion halts, sampling stops, the position is unknown, the
// limits must be set again, remembered sequence numbers are forgotten. Faults stay.
struct Hello {
  static constexpr MessageType kType = MessageType::hello;
  uint16_t protocol_version = 0;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.u16(self.protocol_version);
  }
};

// A request without fields.
template <MessageType type>
struct BareRequest {
  static constexpr MessageType kType = type;

  template <class Self, class Fields>
  static void visit(Self&, Fields&) {}
};

using Heartbeat = BareRequest<MessageType::heartbeat>;  // the host is alive; not answered
using Stop = BareRequest<MessageType::stop>;            // decelerate, keep the position
using Halt = BareRequest<MessageType::halt>;            // no further step; position lost if moving
using ClearFaults = BareRequest<MessageType::clear_faults>;
using StartSampling = BareRequest<MessageType::start_sampling>;
using StopSampling = BareRequest<MessageType::stop_sampling>;

// To the low limit switch fast, off it, onto it slowly: there is zero; then off it again, where
// the rig rests at back_off_steps.
struct Home {
  static constexpr MessageType kType = MessageType::home;
  uint32_t speed_steps_per_s = 0;
  uint32_t slow_speed_steps_per_s = 0;
  uint32_t acceleration_steps_per_s2 = 0;
  uint32_t back_off_steps = 0;
  uint32_t maximum_steps = 0;  // the switch must come within these

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.u32(self.speed_steps_per_s);
    fields.u32(self.slow_speed_steps_per_s);
    fields.u32(self.acceleration_steps_per_s2);
    fields.u32(self.back_off_steps);
    fields.u32(self.maximum_steps);
  }
};

// Moves until a sample lies at or beyond baseline + threshold, on the threshold's side; then
// decelerates. Ends at maximum_steps or the travel limit without.
struct Touch {
  static constexpr MessageType kType = MessageType::touch;
  int8_t direction = 0;          // +1 compression, -1 extension
  int32_t baseline_counts = 0;   // the unloaded reading
  int32_t threshold_counts = 0;  // signed, not zero
  uint32_t speed_steps_per_s = 0;
  uint32_t acceleration_steps_per_s2 = 0;
  uint32_t maximum_steps = 0;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.i8(self.direction);
    fields.i32(self.baseline_counts);
    fields.i32(self.threshold_counts);
    fields.u32(self.speed_steps_per_s);
    fields.u32(self.acceleration_steps_per_s2);
    fields.u32(self.maximum_steps);
  }
};

// To an absolute position, trapezoid in speed, landing exactly.
struct Move {
  static constexpr MessageType kType = MessageType::move;
  int32_t position_steps = 0;
  uint32_t speed_steps_per_s = 0;
  uint32_t acceleration_steps_per_s2 = 0;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.i32(self.position_steps);
    fields.u32(self.speed_steps_per_s);
    fields.u32(self.acceleration_steps_per_s2);
  }
};

// A slow relative move. With the position unknown only away from a tripped limit switch, and then
// even with that switch's fault latched: the way off it.
struct Jog {
  static constexpr MessageType kType = MessageType::jog;
  int32_t steps = 0;  // signed, at most kJogStepsMax either way
  uint32_t speed_steps_per_s = 0;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.i32(self.steps);
    fields.u32(self.speed_steps_per_s);
  }
};

constexpr int32_t kJogStepsMax = 2000;
constexpr uint32_t kJogSpeedMaxStepsPerS = 500;

// What the rig enforces by itself. Force limits hold whenever it moves, travel limits once homed.
struct SetLimits {
  static constexpr MessageType kType = MessageType::set_limits;
  int32_t force_low_counts = 0;
  int32_t force_high_counts = 0;
  int32_t travel_low_steps = 0;
  int32_t travel_high_steps = 0;
  uint16_t heartbeat_timeout_ms = 0;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.i32(self.force_low_counts);
    fields.i32(self.force_high_counts);
    fields.i32(self.travel_low_steps);
    fields.i32(self.travel_high_steps);
    fields.u16(self.heartbeat_timeout_ms);
  }
};

}  // namespace wire
}  // namespace protocol
