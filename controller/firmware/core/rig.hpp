// The rig: a press driven by a stepper, with a load cell, two limit switches and an emergency
// stop. A pure state machine over a Hal (hal.hpp), the same on the chip and in the virtual rig. It
// owns no clock, no interrupt, no heap; WIRE.md is how a host speaks to it.
//
//             home              move, touch, jog
//   unknown ---------> known <--------------------> moving
//      ^                 |                            |
//      +-- any fault, a new session, halt in motion, --+     unknown: only home moves, and a jog
//          reset                                             away from a tripped limit switch
//
// What it guarantees without the host: no step while the emergency stop or the limit switch ahead
// is tripped (the inputs are read just before each step edge), none after a sample beyond the force
// limits, none beyond the travel limits once homed, none when host, load cell or main loop fall
// silent. A fault stops at once and stays latched until cleared. The emergency stop also cuts the
// driver; other faults keep it on, since a compressed spring drives an unpowered carriage back.
#pragma once

#include <stdint.h>

#include "controller/firmware/core/force_guard.hpp"
#include "controller/firmware/core/hal.hpp"
#include "controller/firmware/core/homing.hpp"
#include "controller/firmware/core/load_cell.hpp"
#include "controller/firmware/core/recent_requests.hpp"
#include "controller/firmware/core/step_planner.hpp"
#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "protocol/wire/requests.hpp"

namespace controller {
namespace firmware {

constexpr uint16_t kFirmwareVersion = 0x0001;  // major * 256 + minor

constexpr uint8_t kMainLoopStuckMs = 10;
constexpr uint8_t kStatusPeriodMs = 50;
constexpr uint16_t kNoHeartbeatDue = 0xFFFF;
constexpr int32_t kTravelStepsMax = 10000000;   // so that differences fit 32 bits
constexpr uint32_t kMotionStepsMax = 10000000;  // longer than any press: an upper bound
constexpr uint32_t kJogAccelerationStepsPerS2 = 2000;

// What differs from rig to rig.
struct RigConfig {
  uint8_t id[protocol::wire::kRigIdSize] = {};
  uint32_t maximum_speed_steps_per_s = 5000;  // at most half the tick rate; more is cut
  uint32_t maximum_acceleration_steps_per_s2 = 50000;
  uint16_t nominal_samples_per_s = 80;
  uint16_t load_cell_missing_ms = 100;
  uint16_t load_cell_frozen_samples = 40;  // so many equal readings in a row: a live cell has noise
};

template <class Hal>
class Rig {
 public:
  static constexpr uint32_t kTicksPerSecond = uint32_t{Hal::kTicksPerMs} * 1000u;
  static constexpr uint32_t kUsPerTick = 1000u / Hal::kTicksPerMs;
  static_assert(1000u % Hal::kTicksPerMs == 0, "a tick must be a whole number of microseconds");

  // `hal` must outlive the rig.
  Rig(Hal& hal, const RigConfig& config);

  // Once, before the first tick: puts the driver to rest and announces the start.
  void begin();

  // From interrupts: see hal.hpp for who calls what when.
  void on_tick();
  void on_input_edge();

  // From the main loop.
  void poll();

  // Main loop only. Milliseconds of silence after which the host still counts as alive; at 0 the
  // next millisecond latches the fault. kNoHeartbeatDue while no session is open.
  uint16_t heartbeat_left_ms() const;
  uint32_t time_us() const;
  int32_t position_steps() const;
  uint16_t faults() const;
  uint16_t flags() const;
  protocol::wire::Motion motion() const { return motion_; }

 private:
  using Refusal = protocol::wire::Refusal;
  using Motion = protocol::wire::Motion;
  using EventKind = protocol::wire::EventKind;

  static constexpr uint8_t kEventsKept = 4;
  static constexpr uint8_t kBytesPerPoll = 32;  // a flood of bytes must not starve the load cell

  struct PendingEvent {
    protocol::wire::Event event;
    uint16_t sequence = 0;
  };

  // rig_interrupts.hpp: in an interrupt, or with interrupts off.
  bool inputs_allow_motion();
  bool travel_allows_step();
  void latch(uint16_t faults);
  void stop_steps();

  // rig_loop.hpp: the main loop.
  void take_sample();
  void watch_sample(int32_t position_steps, uint32_t time_us);
  void elapse();
  void elapse_one_ms();
  void fault(uint16_t faults);
  void advance_motion();
  void advance_homing();
  void conclude(EventKind kind, int32_t position_steps, uint32_t time_us);
  void report_faults();
  void push_event(EventKind kind, uint16_t sequence, int32_t position_steps, uint32_t time_us);
  void flush_events();
  void send_status();
  template <class Message>
  bool send(const Message& message, uint16_t sequence, uint16_t room_left_over = 0);

  // rig_requests.hpp: what the host asks.
  void receive();
  void handle(const protocol::wire::Frame& frame);
  void say_hello(const protocol::wire::Frame& frame);
  Refusal carry_out(const protocol::wire::Frame& frame);
  template <class Message>
  Refusal carry_out_as(const protocol::wire::Frame& frame);
  Refusal apply(const protocol::wire::Stop&);
  Refusal apply(const protocol::wire::Halt&);
  Refusal apply(const protocol::wire::ClearFaults&);
  Refusal apply(const protocol::wire::Home& home);
  Refusal apply(const protocol::wire::Touch& touch);
  Refusal apply(const protocol::wire::Move& move);
  Refusal apply(const protocol::wire::Jog& jog);
  Refusal apply(const protocol::wire::SetLimits& limits);
  Refusal apply(const protocol::wire::StartSampling&);
  Refusal apply(const protocol::wire::StopSampling&);
  Refusal may_move(uint16_t faults_allowed) const;
  Refusal may_travel() const;
  bool speed_in_range(uint32_t speed_steps_per_s) const;
  bool ramp_in_range(uint32_t speed_steps_per_s, uint32_t acceleration_steps_per_s2) const;
  void begin_motion(Motion motion, uint16_t faults_allowed);
  void start_homing_leg();
  void start_leg(int8_t direction, uint32_t steps, const Ramp& ramp, bool seek_low_switch);

  Hal& hal_;
  RigConfig config_;

  // Shared with the interrupts: only under an IrqLock.
  StepPlanner planner_;
  uint32_t ticks_ = 0;
  int32_t position_steps_ = 0;
  int32_t travel_low_steps_ = 0;
  int32_t travel_high_steps_ = 0;
  uint16_t faults_ = 0;
  int8_t direction_ = 1;
  uint8_t tick_of_ms_ = 0;
  uint8_t ms_due_ = 0;
  uint8_t main_loop_age_ms_ = 0;
  bool step_due_ = false;
  bool position_known_ = false;
  bool seeking_low_switch_ = false;
  bool low_switch_found_ = false;
  bool driver_enabled_ = false;

  // The main loop's own.
  protocol::wire::Decoder decoder_;
  RecentRequests recent_;
  LoadCellHealth health_;
  ForceGuard force_guard_;
  Homing homing_;
  protocol::wire::Touch touch_;
  int32_t touch_position_steps_ = 0;
  uint32_t touch_time_us_ = 0;
  uint32_t sample_number_ = 0;
  PendingEvent events_[kEventsKept];
  uint16_t request_sequence_ = 0;
  uint16_t motion_sequence_ = 0;
  uint16_t faults_reported_ = 0;
  uint16_t faults_at_start_ = 0;  // a jog may run with its limit fault latched
  uint16_t dropped_samples_ = 0;
  uint16_t silence_ms_ = 0;
  uint16_t heartbeat_timeout_ms_ = protocol::wire::kHeartbeatTimeoutDefaultMs;
  uint8_t status_age_ms_ = 0;
  uint8_t events_pending_ = 0;
  Motion motion_ = Motion::idle;
  EventKind last_event_ = EventKind::none;
  bool session_ = false;
  bool sampling_ = false;
  bool limits_set_ = false;
  bool touched_ = false;
  bool stop_requested_ = false;
};

}  // namespace firmware
}  // namespace controller

#include "controller/firmware/core/rig_interrupts.hpp"
#include "controller/firmware/core/rig_loop.hpp"
#include "controller/firmware/core/rig_requests.hpp"
