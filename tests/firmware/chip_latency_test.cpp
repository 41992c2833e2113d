// The stops that the firmware promises, with the real binary, in simulated time.
#include <catch2/catch.hpp>

#include "tests/firmware/latency_trials.hpp"

using tests::StopCause;

namespace {

constexpr int kTrials = 8;

tests::Worst worst_of(StopCause cause) {
  const tests::Worst worst = tests::worst_of(tests::run_trials(cause, kTrials, 20261128));
  INFO(tests::name_of(cause) << ": " << worst.late_us << " us");
  CHECK(worst.not_latched == 0);
  return worst;
}

}  // namespace

TEST_CASE("chip: emergency stop and limit switch let at most one more step through", "[firmware]") {
  for (const StopCause cause : {StopCause::emergency_stop, StopCause::limit_switch}) {
    const tests::Worst worst = worst_of(cause);
    CHECK(worst.late_us <= 2.0);
    CHECK(worst.steps_after <= 1);
  }
}

TEST_CASE("chip: a conversion beyond the limits stops it within 0.3 ms", "[firmware]") {
  CHECK(worst_of(StopCause::over_limit).late_us <= 300.0);
}

TEST_CASE("chip: a silent host stops it within the time-out and a tick", "[firmware]") {
  // Time-outs are counted in milliseconds of the chip: one may have just begun.
  CHECK(worst_of(StopCause::host_silent).late_us <= 1100.0);
}
