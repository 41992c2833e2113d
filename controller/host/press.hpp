// The rig in newtons and metres: prepare, home, touch, move, rest, read the unloaded cell, stop.
//
// Each call returns once the rig is done, and meanwhile keeps the heartbeat, hands every sample to
// the guard and to the listener, and looks for the operator's stop. Whatever ends a call early
// leaves the rig stopped as far as the line allows; where the line is gone the rig stops by itself.
//
// One thread. What is passed in must outlive the press.
#pragma once

#include <functional>

#include "controller/host/host_guard.hpp"
#include "controller/host/instruments.hpp"
#include "controller/host/session.hpp"
#include "controller/host/stop_source.hpp"
#include "controller/host/zero_shift.hpp"

namespace controller::host {

struct PressSettings {
  double acceleration_m_s2 = 0.05;
  double home_speed_m_s = 0.010;
  double home_slow_speed_m_s = 0.0005;
  double home_back_off_m = 0.002;
  double home_way_max_m = 0.300;
};

// Everything the rig must keep to by itself, and the host once more.
struct PressLimits {
  double force_low_N = -150.0;
  double force_high_N = 2500.0;
  double carriage_low_m = 0.0;  // from travel zero
  double carriage_high_m = 0.200;
  std::optional<double> rate_max_N_m =
      std::nullopt;  // the host's alone; empty: a rigid block may be pressed
};

struct TouchPlan {
  double threshold_N = 0.0;  // signed: positive is felt in compression
  double speed_m_s = 0.0005;
  double way_max_m = 0.0;
};

// The unloaded cell, averaged.
struct ZeroReading {
  double counts = 0.0;
  double scatter_N = 0.0;  // standard deviation of one reading
  double drift_N = 0.0;    // between the two halves
};

class SampleListener {
 public:
  virtual ~SampleListener() = default;
  // An error stops the rig.
  virtual protocol::Result<void> take(const TimedSample& sample) = 0;
};

class Press {
 public:
  Press(Session& session, Instruments instruments, const PressSettings& settings, StopSource& stop);

  // Samples on, old faults cleared. RETURNS the faults that were latched. Nothing moves.
  // ERRORS: stopped_by_rig where a fault cannot be cleared.
  protocol::Result<uint16_t> prepare();

  // To the rig and to the guard. The position need not be known yet.
  protocol::Result<void> set_limits(const PressLimits& limits);

  // RETURNS where the carriage rests, in steps from the switch.
  protocol::Result<int32_t> home();
  // Of a rig that knew its position: how many steps it had lost when it was homed again.
  int32_t lost_steps() const { return lost_steps_; }
  // RETURNS the position of the deciding sample, in steps; empty where nothing was felt.
  protocol::Result<std::optional<int32_t>> touch(const TouchPlan& plan);
  protocol::Result<void> move_to(int32_t position_steps, double speed_m_s);
  // By a distance off a tripped limit switch, or anywhere once homed; slowly.
  protocol::Result<void> jog(int32_t steps);
  // Stands still by the rig's clock.
  protocol::Result<void> rest(double duration_s);
  // Stands still until `done` says so.
  protocol::Result<void> wait_until(const std::function<bool()>& done);
  // ERRORS: stopped_by_guard where the reading is too unsteady to be a zero.
  protocol::Result<ZeroReading> read_zero(int samples);

  // Decelerates; waits for rest. Without a motion it does nothing.
  protocol::Result<void> stop();
  void halt();

  // Null: none.
  void set_listener(SampleListener* listener) { listener_ = listener; }
  // Called at every look at the rig, at least every 50 ms.
  void set_on_look(std::function<void()> on_look) { on_look_ = std::move(on_look); }

  Session& session() { return session_; }
  Instruments& instruments() { return instruments_; }
  const PressSettings& settings() const { return settings_; }
  // The newest sample, if any came.
  const std::optional<TimedSample>& newest() const { return newest_; }
  bool position_is_known() const;

 private:
  template <class Request>
  protocol::Result<protocol::wire::Event> run(const Request& request, double expected_s);
  protocol::Result<protocol::wire::Event> wait_for_end(uint16_t sequence, int64_t latest_us);
  protocol::Result<void> pump_once();
  protocol::Result<void> take_samples();
  protocol::Result<void> look_for_stop() const;
  protocol::Error stop_because(protocol::Error error);
  protocol::Result<void> leave_switch();
  protocol::Result<void> clear_faults();
  uint32_t steps_per_s(double speed_m_s) const;
  uint32_t acceleration_steps_per_s2() const;
  double duration_s(double way_m, double speed_m_s) const;

  Session& session_;
  Instruments instruments_;
  PressSettings settings_;
  StopSource& stop_;
  HostGuard guard_;
  SampleListener* listener_ = nullptr;
  std::function<void()> on_look_;
  std::optional<TimedSample> newest_;
  std::optional<uint16_t> moving_;  // the sequence of the motion that may be running
  uint16_t tolerated_faults_ = 0;   // while leaving a limit switch
  bool sampling_ = false;
  std::optional<ZeroShift> zero_shift_;  // while homing
  int32_t lost_steps_ = 0;
};

}  // namespace controller::host
