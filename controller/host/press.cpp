#include "controller/host/press.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "controller/host/wire_words.hpp"

namespace controller::host {

namespace wire = protocol::wire;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

// One wait for the line, after which stop and guard are looked at again.
constexpr std::chrono::milliseconds kLook{50};
constexpr uint16_t kLimitFaults = wire::kFaultLimitLow | wire::kFaultLimitHigh;

Error no_reading(const Link& link) {
  return {Errc::stopped_by_guard,
          fmt::format("The rig at '{}' sends no readings of its load cell. Check the cell's cable.",
                      link.name())};
}

}  // namespace

Press::Press(Session& session, Instruments instruments, const PressSettings& settings,
             StopSource& stop)
    : session_(session), instruments_(std::move(instruments)), settings_(settings), stop_(stop) {}

// --- Preparing ----------------------------------------------------------------------------------

Result<uint16_t> Press::prepare() {
  const Result<uint16_t> started = session_.request(wire::StartSampling{});
  if (!started) return started.error();
  session_.restart_samples();
  const HostTime patience = session_.now() + std::chrono::seconds(2);
  while (!session_.status() || !newest_) {
    if (session_.now() > patience) return no_reading(session_.link());
    const Result<void> done = session_.pump(session_.now() + kLook);
    if (!done) return done.error();
    while (const std::optional<TimedSample> sample = session_.take_sample()) newest_ = sample;
  }
  const uint16_t faults = session_.faults();
  if (faults != 0) {
    const Result<void> cleared = clear_faults();
    // A tripped limit switch can be left by homing, and by nothing else.
    if (!cleared && (faults & ~kLimitFaults) != 0) {
      const std::optional<Error> trouble = session_.trouble();
      return trouble ? *trouble : cleared.error();
    }
  }
  sampling_ = true;
  guard_.restart(session_.device_time_us());
  return faults;
}

Result<void> Press::clear_faults() {
  const Result<uint16_t> cleared = session_.request(wire::ClearFaults{});
  if (!cleared) return cleared.error();
  session_.forget_faults();
  return {};
}

Result<void> Press::set_limits(const PressLimits& limits) {
  const Result<int32_t> low = instruments_.counts_at(limits.force_low_N);
  const Result<int32_t> high = instruments_.counts_at(limits.force_high_N);
  const Result<int32_t> near = instruments_.steps_at(limits.carriage_low_m);
  const Result<int32_t> far = instruments_.steps_at(limits.carriage_high_m);
  for (const Result<int32_t>* each : {&low, &high, &near, &far}) {
    if (!*each) return each->error();
  }
  wire::SetLimits request;
  // A cell may be wired either way round.
  request.force_low_counts = std::min(*low, *high);
  request.force_high_counts = std::max(*low, *high);
  request.travel_low_steps = std::min(*near, *far);
  request.travel_high_steps = std::max(*near, *far);
  request.heartbeat_timeout_ms = session_.heartbeat().rig_timeout_ms;
  const Result<uint16_t> done = session_.request(request);
  if (!done) return done.error();
  // The rig stops at its limits to the step; the host allows for a step's rounding.
  constexpr double kRounding_m = 5e-5;
  guard_.set_limits({limits.force_low_N, limits.force_high_N, limits.carriage_low_m - kRounding_m,
                     limits.carriage_high_m + kRounding_m, limits.rate_max_N_m});
  guard_.restart(session_.device_time_us());
  return {};
}

// --- Motions ------------------------------------------------------------------------------------

Result<int32_t> Press::home() {
  const Result<void> left = leave_switch();
  if (!left) return left.error();
  const double force_N = newest_ ? instruments_.force_N(newest_->load_counts) : 0.0;
  guard_.restart(session_.device_time_us());
  guard_.let_leave(force_N);
  wire::Home home;
  home.speed_steps_per_s = steps_per_s(settings_.home_speed_m_s);
  home.slow_speed_steps_per_s = steps_per_s(settings_.home_slow_speed_m_s);
  home.acceleration_steps_per_s2 = acceleration_steps_per_s2();
  const double steps_per_m = instruments_.steps_per_m();
  home.back_off_steps = static_cast<uint32_t>(std::lround(settings_.home_back_off_m * steps_per_m));
  home.maximum_steps = static_cast<uint32_t>(std::lround(settings_.home_way_max_m * steps_per_m));
  const double expected_s =
      settings_.home_way_max_m / settings_.home_speed_m_s +
      2.0 * settings_.home_back_off_m *
          (1.0 / settings_.home_speed_m_s + 1.0 / settings_.home_slow_speed_m_s);
  lost_steps_ = 0;
  if (position_is_known()) zero_shift_.emplace(home.acceleration_steps_per_s2);
  const Result<wire::Event> end = run(home, expected_s);
  if (end && zero_shift_) lost_steps_ = zero_shift_->steps();
  zero_shift_.reset();
  if (!end) return end.error();
  return end->position_steps;
}

// Off a limit switch whose fault is latched: homing is refused until then.
Result<void> Press::leave_switch() {
  constexpr int kTries = 4;
  const auto back_off =
      static_cast<int32_t>(settings_.home_back_off_m * instruments_.steps_per_m());
  for (int i = 0; i < kTries && (session_.faults() & kLimitFaults) != 0; ++i) {
    const int32_t away = (session_.faults() & wire::kFaultLimitLow) != 0 ? back_off : -back_off;
    const Result<void> done = jog(away);
    if (!done) return done;
    (void)clear_faults();
  }
  const std::optional<Error> trouble = session_.trouble();
  if (trouble) return *trouble;
  return {};
}

Result<std::optional<int32_t>> Press::touch(const TouchPlan& plan) {
  const Result<int32_t> baseline = instruments_.counts_at(0.0);
  const Result<int32_t> threshold = instruments_.counts_at(plan.threshold_N);
  if (!baseline || !threshold) return baseline ? threshold.error() : baseline.error();
  wire::Touch touch;
  touch.direction = plan.threshold_N > 0.0 ? int8_t{1} : int8_t{-1};
  touch.baseline_counts = *baseline;
  touch.threshold_counts = *threshold - *baseline;
  touch.speed_steps_per_s = steps_per_s(plan.speed_m_s);
  touch.acceleration_steps_per_s2 = acceleration_steps_per_s2();
  touch.maximum_steps =
      static_cast<uint32_t>(std::lround(plan.way_max_m * instruments_.steps_per_m()));
  const Result<wire::Event> end = run(touch, duration_s(plan.way_max_m, plan.speed_m_s));
  if (!end) return end.error();
  if (end->kind != wire::EventKind::touched) return std::optional<int32_t>();
  return std::optional<int32_t>(end->position_steps);
}

Result<void> Press::move_to(int32_t position_steps, double speed_m_s) {
  wire::Move move;
  move.position_steps = position_steps;
  move.speed_steps_per_s = steps_per_s(speed_m_s);
  move.acceleration_steps_per_s2 = acceleration_steps_per_s2();
  const double way_m = newest_ ? std::abs(instruments_.carriage_m(position_steps) -
                                          instruments_.carriage_m(newest_->position_steps))
                               : settings_.home_way_max_m;
  const Result<wire::Event> end = run(move, duration_s(way_m, speed_m_s));
  if (!end) return end.error();
  return {};
}

Result<void> Press::jog(int32_t steps) {
  wire::Jog jog;
  jog.steps = std::clamp(steps, -wire::kJogStepsMax, wire::kJogStepsMax);
  jog.speed_steps_per_s = wire::kJogSpeedMaxStepsPerS;
  tolerated_faults_ = kLimitFaults;
  const Result<wire::Event> end =
      run(jog, wire::kJogStepsMax / double{wire::kJogSpeedMaxStepsPerS});
  tolerated_faults_ = 0;
  if (!end) return end.error();
  return {};
}

template <class Request>
Result<wire::Event> Press::run(const Request& request, double expected_s) {
  Result<void> stopped = look_for_stop();
  if (!stopped) return stopped.error();
  const Result<uint16_t> sequence = session_.request(request);
  if (!sequence) {
    // Without an answer the rig may have begun.
    const Errc code = sequence.error().code;
    if (code == Errc::link_timeout || code == Errc::link_lost) session_.send_halt();
    return sequence.error();
  }
  moving_ = *sequence;
  // Half as long again for what the plan does not know, and a fixed part for short motions.
  constexpr double kSlack_s = 3.0;
  const auto latest_us =
      session_.device_time_us() + static_cast<int64_t>((1.5 * expected_s + kSlack_s) * 1e6);
  Result<wire::Event> end = wait_for_end(*sequence, latest_us);
  if (!end) return stop_because(end.error());
  moving_.reset();
  return end;
}

Result<wire::Event> Press::wait_for_end(uint16_t sequence, int64_t latest_us) {
  for (;;) {
    const Result<void> done = pump_once();
    if (!done) return done.error();
    const std::optional<wire::Event> end = session_.motion_end(sequence);
    if (end && end->kind == wire::EventKind::stopped) {
      return Error{Errc::stopped_by_rig,
                   "The rig stopped before the motion was done, and gives no "
                   "fault. Home it before going on."};
    }
    if (end) return *end;
    if (session_.device_time_us() > latest_us) {
      return Error{Errc::stopped_by_guard,
                   "Stopped for safety: the motion takes much longer than it should. Check that "
                   "the carriage moves freely, then home the rig."};
    }
  }
}

// --- Waiting ------------------------------------------------------------------------------------

Result<void> Press::pump_once() {
  Result<void> done = session_.pump(session_.now() + kLook);
  if (!done) return done;
  done = take_samples();
  if (on_look_) on_look_();
  // What the rig says of itself explains more than what the guard sees of it.
  const std::optional<Error> trouble = session_.trouble(tolerated_faults_);
  if (trouble) return *trouble;
  if (!done) return done;
  if (session_.samples().overflowed() != 0) {
    return Error{Errc::samples_lost,
                 fmt::format("This computer was too slow: {} samples found no room. Close other "
                             "programs and sweep again.",
                             session_.samples().overflowed())};
  }
  if (sampling_) done = guard_.check_time(session_.device_time_us());
  if (!done) return done;
  return look_for_stop();
}

Result<void> Press::take_samples() {
  Result<void> done;
  while (const std::optional<TimedSample> sample = session_.take_sample()) {
    newest_ = sample;
    if (zero_shift_) zero_shift_->take(*sample);
    if (done) done = guard_.check(*sample, instruments_);
    if (done && listener_) done = listener_->take(*sample);
  }
  return done;
}

Result<void> Press::look_for_stop() const {
  if (stop_.level() == StopLevel::none) return {};
  return Error{Errc::stopped_by_operator, "Stopped by the operator."};
}

Result<void> Press::rest(double duration_s) {
  const auto end_us = session_.device_time_us() + static_cast<int64_t>(duration_s * 1e6);
  return wait_until([&] { return session_.device_time_us() >= end_us; });
}

Result<void> Press::wait_until(const std::function<bool()>& done) {
  while (!done()) {
    const Result<void> pumped = pump_once();
    if (!pumped) return stop_because(pumped.error());
  }
  return {};
}

Result<ZeroReading> Press::read_zero(int samples) {
  struct Collector final : SampleListener {
    Result<void> take(const TimedSample& sample) override {
      counts.push_back(sample.load_counts);
      return {};
    }
    std::vector<double> counts;
  } collector;
  SampleListener* const before = std::exchange(listener_, &collector);
  const auto wanted = static_cast<size_t>(samples);
  const Result<void> done = wait_until([&] { return collector.counts.size() >= wanted; });
  listener_ = before;
  if (!done) return done.error();

  const auto mean = [&](size_t from, size_t to) {
    double sum = 0.0;
    for (size_t i = from; i < to; ++i) sum += collector.counts[i];
    return sum / static_cast<double>(to - from);
  };
  ZeroReading zero;
  zero.counts = mean(0, wanted);
  double squares = 0.0;
  for (size_t i = 0; i < wanted; ++i) squares += std::pow(collector.counts[i] - zero.counts, 2);
  const double N_per_count =
      std::abs(instruments_.force_N(zero.counts + 1000.0) - instruments_.force_N(zero.counts)) /
      1000.0;
  zero.scatter_N = std::sqrt(squares / static_cast<double>(wanted - 1)) * N_per_count;
  zero.drift_N = (mean(wanted / 2, wanted) - mean(0, wanted / 2)) * N_per_count;
  constexpr double kScatterMax_N = 5.0;
  constexpr double kDriftMax_N = 1.0;
  // By chance alone the two halves differ by this, as a standard deviation; three times that and a
  // newton on top no steady cell reaches.
  const double chance_N = zero.scatter_N * 2.0 / std::sqrt(static_cast<double>(wanted));
  const double drift_max_N = kDriftMax_N + 3.0 * chance_N;
  if (zero.scatter_N > kScatterMax_N || std::abs(zero.drift_N) > drift_max_N) {
    return Error{Errc::stopped_by_guard,
                 fmt::format("The unloaded load cell is unsteady: one reading scatters by {:.2f} N "
                             "(at most {:.0f}) and they drift by {:.2f} N (at most {:.1f}). Is the "
                             "cell free, is something shaking the bench?",
                             zero.scatter_N, kScatterMax_N, zero.drift_N, drift_max_N)};
  }
  return zero;
}

// --- Stopping -----------------------------------------------------------------------------------

// Leaves the rig stopped, whatever the reason. RETURNS the reason.
Error Press::stop_because(Error error) {
  switch (error.code) {
    case Errc::link_lost:
    case Errc::link_timeout:
    case Errc::stopped_by_guard:
    case Errc::stopped_by_rig:  // it stands, and may not even know of the motion any more
      halt();
      break;
    default:
      if (stop_.level() == StopLevel::halt || !stop()) halt();
  }
  return error;
}

Result<void> Press::stop() {
  if (!moving_) return {};
  const Result<uint16_t> asked = session_.request(wire::Stop{});
  if (!asked) return asked.error();
  const HostTime patience = session_.now() + std::chrono::seconds(5);
  while (!session_.motion_end(*moving_)) {
    if (stop_.level() == StopLevel::halt || session_.now() > patience) {
      halt();
      return {};
    }
    const Result<void> done = session_.pump(session_.now() + kLook);
    if (!done) return done;
    // The rig is on its way to rest; its samples need no judge now, only room.
    while (const std::optional<TimedSample> sample = session_.take_sample()) newest_ = sample;
  }
  moving_.reset();
  return {};
}

void Press::halt() {
  if (!moving_) return;
  session_.send_halt();
  moving_.reset();
}

// --- Conversions --------------------------------------------------------------------------------

bool Press::position_is_known() const {
  return newest_ && (newest_->flags & wire::kFlagPositionKnown) != 0;
}

uint32_t Press::steps_per_s(double speed_m_s) const {
  const double steps = std::round(speed_m_s * instruments_.steps_per_m());
  return static_cast<uint32_t>(
      std::clamp(steps, 1.0, static_cast<double>(session_.rig().maximum_speed_steps_per_s)));
}

uint32_t Press::acceleration_steps_per_s2() const {
  const double steps = std::round(settings_.acceleration_m_s2 * instruments_.steps_per_m());
  return static_cast<uint32_t>(std::clamp(
      steps, 1.0, static_cast<double>(session_.rig().maximum_acceleration_steps_per_s2)));
}

double Press::duration_s(double way_m, double speed_m_s) const {
  return way_m / speed_m_s + speed_m_s / settings_.acceleration_m_s2;
}

}  // namespace controller::host
