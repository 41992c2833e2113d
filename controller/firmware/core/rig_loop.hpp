// The rig's main loop: samples, time-outs, the ends of motions, what is sent. Included by rig.hpp.
#pragma once

#include "controller/firmware/core/rig.hpp"

namespace controller {
namespace firmware {

template <class Hal>
Rig<Hal>::Rig(Hal& hal, const RigConfig& config)
    : hal_(hal),
      config_(config),
      health_(config.load_cell_missing_ms, config.load_cell_frozen_samples) {
  const uint32_t speed_ceiling = kTicksPerSecond / 2;
  if (config_.maximum_speed_steps_per_s > speed_ceiling) {
    config_.maximum_speed_steps_per_s = speed_ceiling;
  }
}

template <class Hal>
void Rig<Hal>::begin() {
  hal_.step(false);
  hal_.adc_sck(false);
  hal_.enable(false);
  // A reset may have cut a frame in two; without an end of its own the next would be lost with it.
  hal_.tx(protocol::wire::kDelimiter);
  push_event(EventKind::started, 0, 0, 0);
}

template <class Hal>
void Rig<Hal>::poll() {
  // The load cell is looked at behind everything that may have sent a frame, since putting one
  // together takes as long as reading a conversion: a force beyond its limits must not wait for
  // two.
  take_sample();
  receive();
  take_sample();
  elapse();
  take_sample();
  advance_motion();
  report_faults();
  flush_events();
  {
    IrqLock<Hal> lock(hal_);
    main_loop_age_ms_ = 0;
  }
  hal_.kick();
  hal_.idle();
}

// --- The load cell ------------------------------------------------------------------------------

template <class Hal>
void Rig<Hal>::take_sample() {
  namespace wire = protocol::wire;
  if (hal_.adc_dout()) return;
  wire::Sample sample;
  {
    IrqLock<Hal> lock(hal_);  // where and when the conversion was ready, not when it is sent
    sample.position_steps = position_steps_;
    sample.time_us = ticks_ * kUsPerTick;
  }
  sample.load_counts = read_load_cell(hal_);
  sample.number = sample_number_++;
  fault(health_.sample(sample.load_counts));
  watch_sample(sample.position_steps, sample.time_us);
  if (!sampling_) return;
  sample.flags = flags();
  if (!send(sample, static_cast<uint16_t>(sample.number & 0xFFFFu))) wire::count(dropped_samples_);
}

// Acts on the newest reading: force limits, and the threshold of a touch.
template <class Hal>
void Rig<Hal>::watch_sample(int32_t position_steps, uint32_t time_us) {
  if (motion_ == Motion::idle) return;
  const int32_t raw_counts = health_.raw_counts();
  if (!force_guard_.sample(raw_counts)) fault(protocol::wire::kFaultForce);
  if (motion_ != Motion::touching || touched_) return;
  const int32_t change_counts = raw_counts - touch_.baseline_counts;
  touched_ = touch_.threshold_counts > 0 ? change_counts >= touch_.threshold_counts
                                         : change_counts <= touch_.threshold_counts;
  if (!touched_) return;
  touch_position_steps_ = position_steps;
  touch_time_us_ = time_us;
  IrqLock<Hal> lock(hal_);
  planner_.decelerate();
}

// --- Time ---------------------------------------------------------------------------------------

template <class Hal>
void Rig<Hal>::elapse() {
  // Level, not edge: a stop held since before the reset counts too.
  if (hal_.inputs() & kInputEmergencyStop) fault(protocol::wire::kFaultEmergencyStop);
  uint8_t due_ms = 0;
  {
    IrqLock<Hal> lock(hal_);
    due_ms = ms_due_;
    ms_due_ = 0;
  }
  for (; due_ms != 0; --due_ms) elapse_one_ms();
}

template <class Hal>
void Rig<Hal>::elapse_one_ms() {
  fault(health_.millisecond());
  if (!session_) return;
  if (silence_ms_ >= heartbeat_timeout_ms_) {
    fault(protocol::wire::kFaultHostLost);
    session_ = false;
    sampling_ = false;
    return;
  }
  ++silence_ms_;
  if (status_age_ms_ < kStatusPeriodMs) ++status_age_ms_;
  if (status_age_ms_ == kStatusPeriodMs) send_status();
}

template <class Hal>
void Rig<Hal>::fault(uint16_t faults) {
  if (faults == 0) return;
  IrqLock<Hal> lock(hal_);
  latch(faults);
}

// --- The ends of motions ------------------------------------------------------------------------

template <class Hal>
void Rig<Hal>::advance_motion() {
  if (motion_ == Motion::idle) return;
  int32_t position_steps = 0;
  {
    IrqLock<Hal> lock(hal_);
    if (faults_ != faults_at_start_ || planner_.running() || step_due_) return;
    position_steps = position_steps_;
  }
  const uint32_t now_us = time_us();
  if (stop_requested_) return conclude(EventKind::stopped, position_steps, now_us);
  switch (motion_) {
    case Motion::homing:
      return advance_homing();
    case Motion::touching:
      if (touched_) return conclude(EventKind::touched, touch_position_steps_, touch_time_us_);
      return conclude(EventKind::touch_missed, position_steps, now_us);
    default:
      return conclude(EventKind::motion_done, position_steps, now_us);
  }
}

template <class Hal>
void Rig<Hal>::advance_homing() {
  const bool found = low_switch_found_;  // the rig stands: no interrupt writes it now
  const bool tripped = (hal_.inputs() & kInputLimitLow) != 0;
  const HomingLeg ended = homing_.leg;
  switch (homing_.next(found, tripped)) {
    case HomingVerdict::failed:
      return fault(protocol::wire::kFaultHomingFailed);
    case HomingVerdict::homed: {
      int32_t position_steps = 0;
      {
        IrqLock<Hal> lock(hal_);
        position_known_ = true;
        position_steps = position_steps_;
      }
      return conclude(EventKind::homed, position_steps, time_us());
    }
    case HomingVerdict::next_leg:
      break;
  }
  if (ended == HomingLeg::reapproach) {
    IrqLock<Hal> lock(hal_);
    position_steps_ = 0;
  }
  start_homing_leg();
}

template <class Hal>
void Rig<Hal>::conclude(EventKind kind, int32_t position_steps, uint32_t time_us) {
  motion_ = Motion::idle;
  push_event(kind, motion_sequence_, position_steps, time_us);
}

template <class Hal>
void Rig<Hal>::report_faults() {
  int32_t position_steps = 0;
  uint16_t faults = 0;
  {
    IrqLock<Hal> lock(hal_);
    faults = faults_;
    position_steps = position_steps_;
  }
  if (faults == faults_reported_) return;
  const bool more = (faults & static_cast<uint16_t>(~faults_reported_)) != 0;
  faults_reported_ = faults;
  if (!more) return;
  const uint16_t sequence = motion_ == Motion::idle ? uint16_t{0} : motion_sequence_;
  motion_ = Motion::idle;
  push_event(EventKind::fault, sequence, position_steps, time_us());
}

// --- What is sent -------------------------------------------------------------------------------

template <class Hal>
void Rig<Hal>::push_event(EventKind kind, uint16_t sequence, int32_t position_steps,
                          uint32_t time_us) {
  last_event_ = kind;
  if (events_pending_ == kEventsKept) return;  // the line is stuck; last_event_ still tells
  PendingEvent& pending = events_[events_pending_++];
  pending.sequence = sequence;
  pending.event.kind = kind;
  pending.event.faults = faults();
  pending.event.position_steps = position_steps;
  pending.event.time_us = time_us;
}

template <class Hal>
void Rig<Hal>::flush_events() {
  while (events_pending_ != 0 && send(events_[0].event, events_[0].sequence)) {
    --events_pending_;
    for (uint8_t i = 0; i < events_pending_; ++i) events_[i] = events_[i + 1];
  }
}

template <class Hal>
void Rig<Hal>::send_status() {
  protocol::wire::Status status;
  {
    IrqLock<Hal> lock(hal_);
    status.position_steps = position_steps_;
    status.time_us = ticks_ * kUsPerTick;
    status.faults = faults_;
  }
  status.load_counts = health_.raw_counts();
  status.flags = flags();
  status.motion = motion_;
  status.last_event = last_event_;
  status.motion_sequence = motion_sequence_;
  status.dropped_samples = dropped_samples_;
  const protocol::wire::DecoderCounters& counters = decoder_.counters();
  status.frames = counters.frames;
  status.bad_crc = counters.bad_crc;
  status.bad_length = counters.bad_length;
  status.resync_bytes = counters.resync_bytes;
  // Samples go first: a status leaves room for one, or waits for the next millisecond.
  if (send(status, 0, protocol::wire::kFrameMax)) status_age_ms_ = 0;
}

template <class Hal>
template <class Message>
bool Rig<Hal>::send(const Message& message, uint16_t sequence, uint16_t room_left_over) {
  const protocol::wire::EncodedFrame frame = protocol::wire::encode(message, sequence);
  if (hal_.tx_room() < frame.size + room_left_over) return false;
  for (uint8_t i = 0; i < frame.size; ++i) hal_.tx(frame.bytes[i]);
  return true;
}

// --- What it says of itself ---------------------------------------------------------------------

template <class Hal>
uint16_t Rig<Hal>::heartbeat_left_ms() const {
  return session_ ? static_cast<uint16_t>(heartbeat_timeout_ms_ - silence_ms_) : kNoHeartbeatDue;
}

template <class Hal>
uint32_t Rig<Hal>::time_us() const {
  IrqLock<Hal> lock(hal_);
  return ticks_ * kUsPerTick;  // rolls over cleanly: both wrap modulo 2^32
}

template <class Hal>
int32_t Rig<Hal>::position_steps() const {
  IrqLock<Hal> lock(hal_);
  return position_steps_;
}

template <class Hal>
uint16_t Rig<Hal>::faults() const {
  IrqLock<Hal> lock(hal_);
  return faults_;
}

template <class Hal>
uint16_t Rig<Hal>::flags() const {
  namespace wire = protocol::wire;
  uint16_t flags = 0;
  const auto set = [&flags](bool on, uint16_t flag) {
    if (on) flags = static_cast<uint16_t>(flags | flag);
  };
  const uint8_t inputs = hal_.inputs();
  set(inputs & kInputLimitLow, wire::kFlagInputLow);
  set(inputs & kInputLimitHigh, wire::kFlagInputHigh);
  set(inputs & kInputEmergencyStop, wire::kFlagInputEmergencyStop);
  set(motion_ != Motion::idle && stop_requested_, wire::kFlagStopping);
  set(sampling_, wire::kFlagSampling);
  set(session_, wire::kFlagSession);
  set(limits_set_, wire::kFlagLimitsSet);
  set(health_.has_reading() && force_guard_.outside(health_.raw_counts()),
      wire::kFlagForceOverLimit);
  IrqLock<Hal> lock(hal_);
  set(position_known_, wire::kFlagPositionKnown);
  set(planner_.running() || step_due_, wire::kFlagMoving);
  set(direction_ > 0, wire::kFlagForward);
  set(driver_enabled_, wire::kFlagDriverEnabled);
  set(faults_ != 0, wire::kFlagFaulted);
  return flags;
}

}  // namespace firmware
}  // namespace controller
