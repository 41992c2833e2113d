// What the rig tells the host: answers to requests, and unsolicited samples, events and status.
#pragma once

#include <stdint.h>

#include "protocol/wire/codes.hpp"

namespace protocol {
namespace wire {

constexpr uint8_t kRigIdSize = 8;
constexpr uint8_t kChannelsMax = 4;

struct Channel {
  Quantity quantity = Quantity::step_position;
  uint8_t bits = 0;  // the width in which it saturates or rolls over
};

// Answers hello, also one of another protocol version: then no session is open.
struct HelloReply {
  static constexpr MessageType kType = MessageType::hello_reply;
  uint16_t protocol_version = 0;
  uint16_t firmware_version = 0;  // major * 256 + minor
  uint8_t rig_id[kRigIdSize] = {};
  uint32_t ticks_per_s = 0;  // the step clock
  uint32_t maximum_speed_steps_per_s = 0;
  uint32_t maximum_acceleration_steps_per_s2 = 0;
  uint16_t nominal_samples_per_s = 0;  // never a time base: samples carry their own
  Channel channels[kChannelsMax] = {};
  uint8_t channel_count = 0;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.u16(self.protocol_version);
    fields.u16(self.firmware_version);
    for (uint8_t i = 0; i < kRigIdSize; ++i) fields.u8(self.rig_id[i]);
    fields.u32(self.ticks_per_s);
    fields.u32(self.maximum_speed_steps_per_s);
    fields.u32(self.maximum_acceleration_steps_per_s2);
    fields.u16(self.nominal_samples_per_s);
    fields.u8(self.channel_count);
    for (uint8_t i = 0; i < self.channel_count && i < kChannelsMax; ++i) {
      fields.code(self.channels[i].quantity);
      fields.u8(self.channels[i].bits);
    }
  }
};

// Answers every other request; the frame's sequence is the request's.
struct Ack {
  static constexpr MessageType kType = MessageType::ack;
  uint8_t request_type = 0;
  Refusal refusal = Refusal::none;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.u8(self.request_type);
    fields.code(self.refusal);
  }
};

// One conversion of the load cell, with where and when. The number counts conversions since
// reset, sent or not, so that a lost one shows as a gap. The time rolls over after 71.6 minutes.
struct Sample {
  static constexpr MessageType kType = MessageType::sample;
  uint32_t number = 0;
  uint32_t time_us = 0;
  int32_t position_steps = 0;
  int32_t load_counts = 0;
  uint16_t flags = 0;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.u32(self.number);
    fields.u32(self.time_us);
    fields.i32(self.position_steps);
    fields.i32(self.load_counts);
    fields.u16(self.flags);
  }
};

// Something happened, once. The frame's sequence is that of the motion request it concludes, 0
// for none. An event lost on the way can be read from the next status: last_event there.
struct Event {
  static constexpr MessageType kType = MessageType::event;
  EventKind kind = EventKind::none;
  uint16_t faults = 0;  // all that are latched
  int32_t position_steps = 0;
  uint32_t time_us = 0;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.code(self.kind);
    fields.u16(self.faults);
    fields.i32(self.position_steps);
    fields.u32(self.time_us);
  }
};

// The whole state, every 50 ms while a session is open.
struct Status {
  static constexpr MessageType kType = MessageType::status;
  uint32_t time_us = 0;
  int32_t position_steps = 0;
  int32_t load_counts = 0;
  uint16_t flags = 0;
  uint16_t faults = 0;
  Motion motion = Motion::idle;
  EventKind last_event = EventKind::none;
  uint16_t motion_sequence = 0;  // of the last accepted motion request
  uint16_t dropped_samples = 0;  // the counters stay at 65535
  uint16_t frames = 0;
  uint16_t bad_crc = 0;
  uint16_t bad_length = 0;
  uint16_t resync_bytes = 0;

  template <class Self, class Fields>
  static void visit(Self& self, Fields& fields) {
    fields.u32(self.time_us);
    fields.i32(self.position_steps);
    fields.i32(self.load_counts);
    fields.u16(self.flags);
    fields.u16(self.faults);
    fields.code(self.motion);
    fields.code(self.last_event);
    fields.u16(self.motion_sequence);
    fields.u16(self.dropped_samples);
    fields.u16(self.frames);
    fields.u16(self.bad_crc);
    fields.u16(self.bad_length);
    fields.u16(self.resync_bytes);
  }
};

}  // namespace wire
}  // namespace protocol
