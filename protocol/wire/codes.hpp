// The numbers that stand for kinds, reasons and states on the wire. Append only: a number that
// was ever sent keeps its meaning.
#pragma once

#include <stdint.h>

namespace protocol {
namespace wire {

enum class MessageType : uint8_t {
  // Host to rig.
  hello = 0x01,
  heartbeat = 0x02,
  stop = 0x03,
  halt = 0x04,
  clear_faults = 0x05,
  home = 0x06,
  touch = 0x07,
  move = 0x08,
  jog = 0x09,
  set_limits = 0x0A,
  start_sampling = 0x0B,
  stop_sampling = 0x0C,
  // Rig to host.
  hello_reply = 0x81,
  ack = 0x82,
  sample = 0x83,
  event = 0x84,
  status = 0x85,
};

// Why a request was not carried out.
enum class Refusal : uint8_t {
  none = 0,  // accepted
  unknown_request = 1,
  bad_payload = 2,
  out_of_range = 3,
  no_session = 4,         // say hello first
  busy = 5,               // a motion runs
  faulted = 6,            // clear the faults first
  not_homed = 7,          // the position is unknown
  inputs_active = 8,      // emergency stop or a limit switch still tripped
  limits_not_set = 9,     // set limits first: every session states its own
  outside_travel = 10,    // the target lies beyond the travel limits
  force_over_limit = 11,  // only homing or a jog may leave an overload
  no_reading = 12,        // the load cell has not spoken yet
  not_away_from_switch = 13,
};

enum class EventKind : uint8_t {
  none = 0,
  started = 1,       // the rig came out of reset
  motion_done = 2,   // a move or jog reached its target
  touched = 3,       // position_steps: where the deciding sample was taken
  touch_missed = 4,  // went all the way without reaching the threshold
  homed = 5,
  stopped = 6,  // by stop or halt, before the target
  fault = 7,    // faults: everything latched now
};

enum class Motion : uint8_t {
  idle = 0,
  moving = 1,
  touching = 2,
  homing = 3,
  jogging = 4,
};

// What a hello reply's channel measures.
enum class Quantity : uint8_t {
  step_position = 1,
  load_counts = 2,
};

// Latched faults, bits of a u16.
constexpr uint16_t kFaultEmergencyStop = 1u << 0;
constexpr uint16_t kFaultLimitLow = 1u << 1;
constexpr uint16_t kFaultLimitHigh = 1u << 2;
constexpr uint16_t kFaultForce = 1u << 3;
constexpr uint16_t kFaultLoadCellMissing = 1u << 4;
constexpr uint16_t kFaultLoadCellSaturated = 1u << 5;
constexpr uint16_t kFaultLoadCellFrozen = 1u << 6;
constexpr uint16_t kFaultHostLost = 1u << 7;
constexpr uint16_t kFaultMainLoopStuck = 1u << 8;
constexpr uint16_t kFaultTravel = 1u << 9;
constexpr uint16_t kFaultHomingFailed = 1u << 10;

// The state of things, bits of the u16 `flags` in samples and status.
constexpr uint16_t kFlagPositionKnown = 1u << 0;
constexpr uint16_t kFlagMoving = 1u << 1;
constexpr uint16_t kFlagForward = 1u << 2;  // the last or present direction is compression
constexpr uint16_t kFlagStopping = 1u << 3;
constexpr uint16_t kFlagSampling = 1u << 4;
constexpr uint16_t kFlagSession = 1u << 5;
constexpr uint16_t kFlagLimitsSet = 1u << 6;
constexpr uint16_t kFlagDriverEnabled = 1u << 7;
constexpr uint16_t kFlagInputLow = 1u << 8;
constexpr uint16_t kFlagInputHigh = 1u << 9;
constexpr uint16_t kFlagInputEmergencyStop = 1u << 10;
constexpr uint16_t kFlagForceOverLimit = 1u << 11;
constexpr uint16_t kFlagFaulted = 1u << 12;

// Bounds that both ends know.
constexpr uint16_t kHeartbeatTimeoutMinMs = 100;
constexpr uint16_t kHeartbeatTimeoutMaxMs = 10000;
constexpr uint16_t kHeartbeatTimeoutDefaultMs = 1000;  // until set_limits says otherwise
constexpr int32_t kCountsMin = -0x800000;              // 24-bit two's complement; the ends are
constexpr int32_t kCountsMax = 0x7FFFFF;               // the load cell's saturation

}  // namespace wire
}  // namespace protocol
