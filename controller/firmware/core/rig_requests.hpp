// What the host asks, and when the answer is no. Included by rig.hpp.
#pragma once

#include "controller/firmware/core/rig.hpp"

namespace controller {
namespace firmware {

template <class Hal>
void Rig<Hal>::receive() {
  uint8_t byte = 0;
  for (uint8_t taken = 0; taken < kBytesPerPoll && hal_.rx(byte); ++taken) {
    if (decoder_.feed(byte) != protocol::wire::Verdict::frame) continue;
    handle(decoder_.frame());
    take_sample();
  }
}

template <class Hal>
void Rig<Hal>::handle(const protocol::wire::Frame& frame) {
  namespace wire = protocol::wire;
  if (frame.type == static_cast<uint8_t>(wire::MessageType::hello)) return say_hello(frame);
  silence_ms_ = 0;
  if (frame.type == static_cast<uint8_t>(wire::MessageType::heartbeat)) return;
  wire::Ack ack;
  ack.request_type = frame.type;
  const Refusal* before = recent_.find(frame.sequence, frame.type);
  if (before != nullptr) {
    ack.refusal = *before;
  } else {
    request_sequence_ = frame.sequence;
    ack.refusal = carry_out(frame);
    // Without a session the next hello forgets it anyway; with one, the answer stands.
    recent_.remember(frame.sequence, frame.type, ack.refusal);
  }
  send(ack, frame.sequence);  // an ack that finds no room is asked for again
}

template <class Hal>
void Rig<Hal>::say_hello(const protocol::wire::Frame& frame) {
  namespace wire = protocol::wire;
  uint16_t host_version = 0;
  if (!wire::version_of(frame, host_version)) return;
  {
    IrqLock<Hal> lock(hal_);
    stop_steps();
    position_known_ = false;
  }
  motion_ = Motion::idle;
  motion_sequence_ = 0;
  last_event_ = EventKind::none;
  events_pending_ = 0;
  sampling_ = false;
  limits_set_ = false;
  recent_.forget();
  silence_ms_ = 0;
  heartbeat_timeout_ms_ = wire::kHeartbeatTimeoutDefaultMs;
  status_age_ms_ = 0;
  session_ = host_version == wire::kProtocolVersion;

  wire::HelloReply reply;
  reply.protocol_version = wire::kProtocolVersion;
  reply.firmware_version = kFirmwareVersion;
  for (uint8_t i = 0; i < wire::kRigIdSize; ++i) reply.rig_id[i] = config_.id[i];
  reply.ticks_per_s = kTicksPerSecond;
  reply.maximum_speed_steps_per_s = config_.maximum_speed_steps_per_s;
  reply.maximum_acceleration_steps_per_s2 = config_.maximum_acceleration_steps_per_s2;
  reply.nominal_samples_per_s = config_.nominal_samples_per_s;
  reply.channel_count = 2;
  reply.channels[0].quantity = wire::Quantity::step_position;
  reply.channels[0].bits = 32;
  reply.channels[1].quantity = wire::Quantity::load_counts;
  reply.channels[1].bits = 24;
  send(reply, frame.sequence);
}

template <class Hal>
protocol::wire::Refusal Rig<Hal>::carry_out(const protocol::wire::Frame& frame) {
  namespace wire = protocol::wire;
  switch (static_cast<wire::MessageType>(frame.type)) {
    case wire::MessageType::stop:
      return carry_out_as<wire::Stop>(frame);
    case wire::MessageType::halt:
      return carry_out_as<wire::Halt>(frame);
    case wire::MessageType::clear_faults:
      return carry_out_as<wire::ClearFaults>(frame);
    case wire::MessageType::home:
      return carry_out_as<wire::Home>(frame);
    case wire::MessageType::touch:
      return carry_out_as<wire::Touch>(frame);
    case wire::MessageType::move:
      return carry_out_as<wire::Move>(frame);
    case wire::MessageType::jog:
      return carry_out_as<wire::Jog>(frame);
    case wire::MessageType::set_limits:
      return carry_out_as<wire::SetLimits>(frame);
    case wire::MessageType::start_sampling:
      return carry_out_as<wire::StartSampling>(frame);
    case wire::MessageType::stop_sampling:
      return carry_out_as<wire::StopSampling>(frame);
    default:
      return Refusal::unknown_request;
  }
}

template <class Hal>
template <class Message>
protocol::wire::Refusal Rig<Hal>::carry_out_as(const protocol::wire::Frame& frame) {
  Message message;
  if (!protocol::wire::decode(frame, message)) return Refusal::bad_payload;
  return apply(message);
}

// --- Always allowed -----------------------------------------------------------------------------

template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::Stop&) {
  IrqLock<Hal> lock(hal_);
  planner_.decelerate();
  stop_requested_ = true;
  return Refusal::none;
}

template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::Halt&) {
  IrqLock<Hal> lock(hal_);
  // A motor stopped dead from speed may slip by steps that nobody counted.
  if (planner_.running()) position_known_ = false;
  stop_steps();
  stop_requested_ = true;
  return Refusal::none;
}

// --- Within a session ---------------------------------------------------------------------------

// A fault whose input is still tripped stays. So a rig that stands on a limit switch after an
// emergency stop keeps only the switch's fault, and a jog can leave it.
template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::ClearFaults&) {
  if (!session_) return Refusal::no_session;
  if (motion_ != Motion::idle) return Refusal::busy;
  const uint16_t held = faults_of(hal_.inputs());
  health_.forgive();
  IrqLock<Hal> lock(hal_);
  faults_ = static_cast<uint16_t>(faults_ & held);
  faults_reported_ = faults_;
  return faults_ == 0 ? Refusal::none : Refusal::inputs_active;
}

// In motion too: a host that wants less must not have to wait for the end of the way.
template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::SetLimits& limits) {
  namespace wire = protocol::wire;
  if (!session_) return Refusal::no_session;
  if (limits.force_low_counts < wire::kCountsMin || limits.force_high_counts > wire::kCountsMax ||
      limits.force_low_counts >= limits.force_high_counts ||
      limits.travel_low_steps >= limits.travel_high_steps ||
      limits.travel_low_steps < -kTravelStepsMax || limits.travel_high_steps > kTravelStepsMax ||
      limits.heartbeat_timeout_ms < wire::kHeartbeatTimeoutMinMs ||
      limits.heartbeat_timeout_ms > wire::kHeartbeatTimeoutMaxMs) {
    return Refusal::out_of_range;
  }
  force_guard_.set_limits(limits.force_low_counts, limits.force_high_counts);
  heartbeat_timeout_ms_ = limits.heartbeat_timeout_ms;
  limits_set_ = true;
  IrqLock<Hal> lock(hal_);
  travel_low_steps_ = limits.travel_low_steps;
  travel_high_steps_ = limits.travel_high_steps;
  return Refusal::none;
}

template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::StartSampling&) {
  if (!session_) return Refusal::no_session;
  sampling_ = true;
  return Refusal::none;
}

template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::StopSampling&) {
  if (!session_) return Refusal::no_session;
  sampling_ = false;
  return Refusal::none;
}

// --- Motion -------------------------------------------------------------------------------------

// What every motion needs. `faults_allowed` may stay latched.
template <class Hal>
protocol::wire::Refusal Rig<Hal>::may_move(uint16_t faults_allowed) const {
  if (!session_) return Refusal::no_session;
  if (motion_ != Motion::idle) return Refusal::busy;
  if ((faults() & static_cast<uint16_t>(~faults_allowed)) != 0) return Refusal::faulted;
  if (hal_.inputs() & kInputEmergencyStop) return Refusal::inputs_active;
  if (!limits_set_) return Refusal::limits_not_set;
  if (!health_.has_reading()) return Refusal::no_reading;
  return Refusal::none;
}

// What a motion with a known position needs besides.
template <class Hal>
protocol::wire::Refusal Rig<Hal>::may_travel() const {
  const Refusal refusal = may_move(0);
  if (refusal != Refusal::none) return refusal;
  if (!position_known_) return Refusal::not_homed;
  if (force_guard_.outside(health_.raw_counts())) return Refusal::force_over_limit;
  return Refusal::none;
}

template <class Hal>
bool Rig<Hal>::speed_in_range(uint32_t speed_steps_per_s) const {
  return speed_steps_per_s >= 1 && speed_steps_per_s <= config_.maximum_speed_steps_per_s;
}

template <class Hal>
bool Rig<Hal>::ramp_in_range(uint32_t speed_steps_per_s, uint32_t acceleration_steps_per_s2) const {
  return speed_in_range(speed_steps_per_s) && acceleration_steps_per_s2 >= 1 &&
         acceleration_steps_per_s2 <= config_.maximum_acceleration_steps_per_s2;
}

template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::Home& home) {
  const Refusal refusal = may_move(0);
  if (refusal != Refusal::none) return refusal;
  if (!ramp_in_range(home.speed_steps_per_s, home.acceleration_steps_per_s2) ||
      !speed_in_range(home.slow_speed_steps_per_s) || home.back_off_steps < 1 ||
      home.back_off_steps > home.maximum_steps || home.maximum_steps > kMotionStepsMax) {
    return Refusal::out_of_range;
  }
  homing_.fast = make_ramp(home.speed_steps_per_s, home.acceleration_steps_per_s2, kTicksPerSecond);
  homing_.slow =
      make_ramp(home.slow_speed_steps_per_s, home.acceleration_steps_per_s2, kTicksPerSecond);
  homing_.back_off_steps = home.back_off_steps;
  homing_.maximum_steps = home.maximum_steps;
  homing_.begin((hal_.inputs() & kInputLimitLow) != 0);
  begin_motion(Motion::homing, 0);
  {
    IrqLock<Hal> lock(hal_);
    position_known_ = false;
  }
  start_homing_leg();
  return Refusal::none;
}

template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::Touch& touch) {
  namespace wire = protocol::wire;
  const Refusal refusal = may_travel();
  if (refusal != Refusal::none) return refusal;
  if (!ramp_in_range(touch.speed_steps_per_s, touch.acceleration_steps_per_s2) ||
      (touch.direction != 1 && touch.direction != -1) || touch.threshold_counts == 0 ||
      touch.baseline_counts < wire::kCountsMin || touch.baseline_counts > wire::kCountsMax ||
      touch.threshold_counts < -wire::kCountsMax || touch.threshold_counts > wire::kCountsMax ||
      touch.maximum_steps < 1 || touch.maximum_steps > kMotionStepsMax) {
    return Refusal::out_of_range;
  }
  // Up to the travel limit at most, so that a touch that finds nothing ends as one, without a
  // fault.
  const int32_t room_steps = touch.direction > 0 ? travel_high_steps_ - position_steps_
                                                 : position_steps_ - travel_low_steps_;
  if (room_steps <= 0) return Refusal::outside_travel;
  uint32_t steps = touch.maximum_steps;
  if (steps > static_cast<uint32_t>(room_steps)) steps = static_cast<uint32_t>(room_steps);
  touch_ = touch;
  touched_ = false;
  begin_motion(Motion::touching, 0);
  start_leg(touch.direction, steps,
            make_ramp(touch.speed_steps_per_s, touch.acceleration_steps_per_s2, kTicksPerSecond),
            false);
  return Refusal::none;
}

template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::Move& move) {
  const Refusal refusal = may_travel();
  if (refusal != Refusal::none) return refusal;
  if (!ramp_in_range(move.speed_steps_per_s, move.acceleration_steps_per_s2)) {
    return Refusal::out_of_range;
  }
  if (move.position_steps < travel_low_steps_ || move.position_steps > travel_high_steps_) {
    return Refusal::outside_travel;
  }
  // Nothing moves now, so the shared position may be read without a lock.
  const int32_t way_steps = move.position_steps - position_steps_;
  begin_motion(Motion::moving, 0);
  start_leg(way_steps < 0 ? int8_t{-1} : int8_t{1},
            static_cast<uint32_t>(way_steps < 0 ? -way_steps : way_steps),
            make_ramp(move.speed_steps_per_s, move.acceleration_steps_per_s2, kTicksPerSecond),
            false);
  return Refusal::none;
}

template <class Hal>
protocol::wire::Refusal Rig<Hal>::apply(const protocol::wire::Jog& jog) {
  namespace wire = protocol::wire;
  const uint16_t limit_faults = wire::kFaultLimitLow | wire::kFaultLimitHigh;
  const Refusal refusal = may_move(limit_faults);
  if (refusal != Refusal::none) return refusal;
  if (!speed_in_range(jog.speed_steps_per_s) ||
      jog.speed_steps_per_s > wire::kJogSpeedMaxStepsPerS || jog.steps == 0 ||
      jog.steps < -wire::kJogStepsMax || jog.steps > wire::kJogStepsMax) {
    return Refusal::out_of_range;
  }
  if (position_known_) {
    const int32_t target_steps = position_steps_ + jog.steps;
    if (target_steps < travel_low_steps_ || target_steps > travel_high_steps_) {
      return Refusal::outside_travel;
    }
  } else {
    const uint8_t behind = jog.steps > 0 ? kInputLimitLow : kInputLimitHigh;
    if ((hal_.inputs() & behind) == 0) return Refusal::not_away_from_switch;
  }
  begin_motion(Motion::jogging, limit_faults);
  start_leg(jog.steps < 0 ? int8_t{-1} : int8_t{1},
            static_cast<uint32_t>(jog.steps < 0 ? -jog.steps : jog.steps),
            make_ramp(jog.speed_steps_per_s, kJogAccelerationStepsPerS2, kTicksPerSecond), false);
  return Refusal::none;
}

template <class Hal>
void Rig<Hal>::begin_motion(Motion motion, uint16_t faults_allowed) {
  motion_ = motion;
  motion_sequence_ = request_sequence_;
  stop_requested_ = false;
  faults_at_start_ = static_cast<uint16_t>(faults() & faults_allowed);
  force_guard_.begin(health_.raw_counts());
}

template <class Hal>
void Rig<Hal>::start_homing_leg() {
  start_leg(homing_.towards_switch() ? int8_t{-1} : int8_t{1}, homing_.steps(), homing_.ramp(),
            homing_.towards_switch());
}

template <class Hal>
void Rig<Hal>::start_leg(int8_t direction, uint32_t steps, const Ramp& ramp, bool seek_low_switch) {
  IrqLock<Hal> lock(hal_);
  // Since the request was judged an interrupt may have latched a fault: then nothing starts.
  if (faults_ != faults_at_start_) return;
  direction_ = direction;
  seeking_low_switch_ = seek_low_switch;
  low_switch_found_ = false;
  hal_.dir(direction > 0);
  hal_.enable(true);
  driver_enabled_ = true;
  planner_.start(steps, ramp);
}

}  // namespace firmware
}  // namespace controller
