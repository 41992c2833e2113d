#include "controller/host/host_guard.hpp"

#include <fmt/format.h>

#include <cmath>

#include "protocol/wire/codes.hpp"

namespace controller::host {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

Error stopped(const std::string& why) {
  return {Errc::stopped_by_guard, "Stopped for safety: " + why + " Home the rig before going on."};
}

}  // namespace

void HostGuard::restart(int64_t device_time_us) {
  last_time_us_ = device_time_us;
  same_ = 0;
  leaving_N_.reset();
  last_force_N_.reset();
  last_sample_us_.reset();
}

void HostGuard::let_leave(double force_N) {
  // A few per cent for noise, and for the friction that turns round as the retreat begins.
  leaving_N_ =
      force_N + std::copysign(0.03 * (limits_.force_high_N - limits_.force_low_N), force_N);
}

Result<void> HostGuard::check(const TimedSample& sample, const Instruments& instruments) {
  last_time_us_ = sample.time_us;
  Result<void> done = check_sample_time(sample.time_us);
  if (done) done = check_cell(sample.load_counts);
  if (!done) return done;
  const double force_N = instruments.force_N(sample.load_counts);
  const double carriage_m = instruments.carriage_m(sample.position_steps);
  done = check_force(force_N);
  if (done) done = check_jump(force_N, carriage_m);
  if (!done || (sample.flags & protocol::wire::kFlagPositionKnown) == 0) return done;
  if (carriage_m >= limits_.carriage_low_m && carriage_m <= limits_.carriage_high_m) return {};
  return stopped(fmt::format("the carriage is at {:.1f} mm, outside {:.1f} to {:.1f} mm.",
                             carriage_m * 1e3, limits_.carriage_low_m * 1e3,
                             limits_.carriage_high_m * 1e3));
}

// Whatever came between two readings was not seen, be it lost on the line or never taken.
Result<void> HostGuard::check_sample_time(int64_t time_us) {
  const int64_t since_us = time_us - last_sample_us_.value_or(time_us - 1);
  last_sample_us_ = time_us;
  if (since_us <= 0) {
    return stopped(
        "the rig's clock went back, so that its readings have no order. Check the line.");
  }
  if (since_us <= kStaleDevice_us) return {};
  return stopped(fmt::format("no reading of the load cell for {:.0f} ms.",
                             static_cast<double>(since_us) / 1e3));
}

Result<void> HostGuard::check_cell(int32_t counts) {
  same_ = counts == last_counts_ ? same_ + 1 : 1;
  last_counts_ = counts;
  if (counts <= protocol::wire::kCountsMin || counts >= protocol::wire::kCountsMax) {
    return stopped(
        "the load cell is at the end of its range. Check for an overload or a broken "
        "wire.");
  }
  if (same_ < kFrozenSamples) return {};
  return stopped(
      fmt::format("the load cell gave the same reading ({}) {} times in a row. Check its "
                  "cable and amplifier.",
                  counts, same_));
}

Result<void> HostGuard::check_force(double force_N) {
  if (force_N >= limits_.force_low_N && force_N <= limits_.force_high_N) {
    leaving_N_.reset();
    return {};
  }
  if (leaving_N_ && (*leaving_N_ > 0.0 ? force_N <= *leaving_N_ : force_N >= *leaving_N_))
    return {};
  return stopped(fmt::format("the force is {:.0f} N, outside {:.0f} to {:.0f} N.", force_N,
                             limits_.force_low_N, limits_.force_high_N));
}

// At rest a weight may be hung; a moving carriage changes the force step by step.
Result<void> HostGuard::check_jump(double force_N, double carriage_m) {
  const double before_N = last_force_N_.value_or(force_N);
  const double way_m = std::abs(carriage_m - last_carriage_m_);
  last_force_N_ = force_N;
  last_carriage_m_ = carriage_m;
  const double jump_N = std::abs(force_N - before_N);
  if (!limits_.rate_max_N_m || way_m == 0.0) return {};
  if (jump_N <= kJumpMax_N + *limits_.rate_max_N_m * way_m) return {};
  return stopped(
      fmt::format("the force jumped from {:.0f} to {:.0f} N within {:.2f} mm. Check the load "
                  "cell's plug and how the fork is held.",
                  before_N, force_N, way_m * 1e3));
}

Result<void> HostGuard::check_time(int64_t device_time_us) const {
  const int64_t silence_us = device_time_us - last_time_us_;
  if (silence_us <= kStaleDevice_us) return {};
  return stopped(fmt::format("no reading of the load cell for {:.0f} ms.",
                             static_cast<double>(silence_us) / 1e3));
}

}  // namespace controller::host
