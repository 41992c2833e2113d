// The host's own watch over force, travel and the load cell, sample by sample. It trusts nothing
// that the rig says about its limits; the rig guards itself with the same figures.
//
// A reading that is saturated, frozen, overdue or torn from the one before is a fault: a force that
// nobody sees cannot be limited.
#pragma once

#include <optional>

#include "controller/host/instruments.hpp"
#include "controller/host/sample_stream.hpp"
#include "protocol/error.hpp"

namespace controller::host {

struct GuardLimits {
  double force_low_N = -150.0;
  double force_high_N = 2500.0;
  // Of the carriage, from travel zero. They hold while the rig knows its position.
  double carriage_low_m = 0.0;
  double carriage_high_m = 0.200;
  // The steepest that the force may change along the way; a rigid block has no such limit.
  std::optional<double> rate_max_N_m = std::nullopt;
};

class HostGuard {
 public:
  // So many equal readings in a row: a live cell has noise. More than the rig's own limit at 80
  // samples a second would take to speak.
  static constexpr int kFrozenSamples = 60;
  // No sample for so long by the rig's clock, while its other reports came.
  static constexpr int64_t kStaleDevice_us = 300'000;

  // From one reading to the next of a moving carriage, beyond what the way explains: more than a
  // seal that breaks loose, less than a loose plug.
  static constexpr double kJumpMax_N = 200.0;

  void set_limits(const GuardLimits& limits) { limits_ = limits; }
  // A new watch begins now: what was seen before no longer counts.
  void restart(int64_t device_time_us);
  // A rig that stands under an overload must be able to leave it: up to `force_N` is let pass until
  // the force was inside its limits again.
  void let_leave(double force_N);

  // ERRORS: stopped_by_guard.
  protocol::Result<void> check(const TimedSample& sample, const Instruments& instruments);
  // Between samples: whether one is overdue.
  protocol::Result<void> check_time(int64_t device_time_us) const;

 private:
  protocol::Result<void> check_sample_time(int64_t time_us);
  protocol::Result<void> check_cell(int32_t counts);
  protocol::Result<void> check_force(double force_N);
  protocol::Result<void> check_jump(double force_N, double carriage_m);

  GuardLimits limits_;
  std::optional<double> leaving_N_;
  std::optional<int64_t> last_sample_us_;
  std::optional<double> last_force_N_;
  double last_carriage_m_ = 0.0;
  int64_t last_time_us_ = 0;
  int32_t last_counts_ = 0;
  int same_ = 0;
};

}  // namespace controller::host
