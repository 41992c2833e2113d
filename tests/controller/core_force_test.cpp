// The force guard: a sample beyond a limit stops, and there is a way back.
#include <catch2/catch.hpp>

#include "tests/support/moving_bench.hpp"

using namespace protocol::wire;
using test_support::Bench;
using test_support::check_latched;
using test_support::Moving;

// --- Force --------------------------------------------------------------------------------------

TEST_CASE("force: a sample beyond a limit stops at once", "[core][fault]") {
  Moving bench;
  const bool high = GENERATE(true, false);
  CAPTURE(high);
  bench.hal.load_counts = [high](int32_t) { return high ? 400100 : -400100; };
  // The next conversion carries it; from its readiness not one step more than was due.
  const int pulses = bench.hal.clock_pulses;
  bench.run_until([&] { return bench.hal.clock_pulses > pulses; });
  const size_t edges = bench.hal.edges.size();
  check_latched(bench, kFaultForce, bench.moving);
  CHECK(bench.hal.edges.size() == edges);
  CHECK(bench.hal.driver_enabled);
}

TEST_CASE("force: readings just inside the limits are welcome", "[core]") {
  Moving bench;
  bench.hal.load_counts = [](int32_t) { return 399990; };
  bench.run_ms(200);
  bench.hal.load_counts = [](int32_t) { return -399990; };
  bench.run_ms(200);
  CHECK(bench.rig.faults() == 0);
}

TEST_CASE("force: a spring pressed too far stops within one sample's way", "[core][fault]") {
  Bench bench;
  bench.hal.load_counts = [](int32_t carriage_steps) { return 40 * carriage_steps; };
  bench.open_and_home();
  REQUIRE(bench.ask(Bench::move_to(30000)) == Refusal::none);
  CHECK(bench.wait_for_event(bench.sequence).faults == kFaultForce);
  // The limit lies at 10000 steps; 2000 steps/s times 12.5 ms is 25 steps.
  CHECK(bench.hal.carriage_steps >= 10000);
  CHECK(bench.hal.carriage_steps <= 10000 + 26);
}

TEST_CASE("force: at rest an overload is shown, not latched, and refuses what is no retreat",
          "[core]") {
  Bench bench;
  bench.open_and_home();
  bench.hal.load_counts = [](int32_t) { return 500000; };
  bench.run_ms(50);
  CHECK(bench.rig.faults() == 0);
  CHECK(bench.has(kFlagForceOverLimit));
  CHECK(bench.ask(Bench::move_to(500)) == Refusal::force_over_limit);
}

TEST_CASE("force: homing may leave an overload that shrinks on the way", "[core]") {
  Bench bench;
  bench.hal.load_counts = [](int32_t carriage_steps) { return 40 * carriage_steps; };
  bench.open_and_home();
  REQUIRE(bench.ask(Bench::move_to(30000)) == Refusal::none);
  bench.wait_for_event(bench.sequence);
  REQUIRE(bench.ask(ClearFaults{}) == Refusal::none);
  bench.hal.carriage_steps += 500;  // well beyond the limit
  bench.run_ms(20);
  CHECK(bench.has(kFlagForceOverLimit));
  CHECK(bench.perform(Bench::home()).kind == EventKind::homed);
  CHECK_FALSE(bench.has(kFlagForceOverLimit));
}

TEST_CASE("force: homing that makes an overload worse is stopped", "[core][fault]") {
  Bench bench;
  bench.hal.carriage_steps = 20000;
  // Wired the other way round: the counts rise as the rig extends.
  bench.hal.load_counts = [](int32_t carriage_steps) {
    return 420000 - 20 * (carriage_steps - 20000);
  };
  bench.open_session();
  const Event event = bench.perform(Bench::home());
  CHECK(event.kind == EventKind::fault);
  CHECK(event.faults == kFaultForce);
  // The margin is an 64th of the range, 12516 counts: 626 steps, and one sample's way.
  CHECK(bench.hal.carriage_steps >= 20000 - 626 - 55);
}

TEST_CASE("force: the limit follows a shrinking overload down", "[core][fault]") {
  controller::firmware::ForceGuard guard;
  guard.set_limits(-64000, 64000);  // the margin is 2016
  guard.begin(90000);
  CHECK(guard.sample(91000));
  CHECK(guard.sample(92016));
  CHECK(guard.sample(80000));
  CHECK(guard.sample(82016));
  CHECK_FALSE(guard.sample(82017));
  CHECK(guard.sample(64000));
  CHECK_FALSE(guard.sample(64001));
}

TEST_CASE("force: the same below", "[core][fault]") {
  controller::firmware::ForceGuard guard;
  guard.set_limits(-64000, 64000);
  guard.begin(-90000);
  CHECK(guard.sample(-92016));
  CHECK_FALSE(guard.sample(-92017));
  CHECK(guard.sample(-70000));
  CHECK_FALSE(guard.sample(-72017));
  CHECK(guard.sample(-64000));
  CHECK_FALSE(guard.sample(-64001));
  CHECK_FALSE(guard.sample(64001));  // leaving one end opens nothing at the other
}

TEST_CASE("force: a motion that starts inside gets no margin", "[core][fault]") {
  controller::firmware::ForceGuard guard;
  guard.set_limits(-1000, 1000);
  guard.begin(1000);
  CHECK(guard.sample(1000));
  CHECK_FALSE(guard.sample(1001));
  CHECK_FALSE(guard.sample(-1001));
  CHECK(guard.outside(1001));
  CHECK_FALSE(guard.outside(1000));
  CHECK(guard.outside(-1001));
  CHECK_FALSE(guard.outside(-1000));
}
