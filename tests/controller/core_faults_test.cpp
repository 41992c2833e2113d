// Silence and sickness: load cell, host, main loop; what clearing and a reset do.
#include <catch2/catch.hpp>

#include "tests/support/moving_bench.hpp"

using namespace protocol::wire;
using test_support::Bench;
using test_support::check_cleared;
using test_support::check_latched;
using test_support::jog;
using test_support::Moving;

// --- The load cell's health ---------------------------------------------------------------------

TEST_CASE("load cell: saturated at either end is a fault", "[core][fault]") {
  Moving bench;
  const bool high = GENERATE(true, false);
  bench.hal.load_noise = false;
  bench.hal.load_counts = [high](int32_t) { return high ? kCountsMax : kCountsMin; };
  bench.wait_for_event(bench.moving);
  CHECK((bench.rig.faults() & kFaultLoadCellSaturated) != 0);
}

TEST_CASE("load cell: saturation is no mere force, it faults a rig at rest", "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  bench.hal.load_noise = false;
  bench.hal.load_counts = [](int32_t) { return kCountsMax; };
  bench.run_ms(20);
  CHECK(bench.rig.faults() == kFaultLoadCellSaturated);
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  CHECK(bench.ask(ClearFaults{}) == Refusal::none);
  bench.run_ms(20);
  CHECK(bench.rig.faults() == kFaultLoadCellSaturated);  // it is still there
}

TEST_CASE("load cell: the same value forty times in a row is a frozen one", "[core][fault]") {
  Moving bench;
  bench.hal.load_noise = false;
  bench.hal.load_counts = [](int32_t) { return 1234; };
  bench.run_ms(38 * 25 / 2);
  CHECK(bench.rig.faults() == 0);
  check_latched(bench, kFaultLoadCellFrozen, bench.moving);
  bench.hal.load_noise = true;
  check_cleared(bench);
}

TEST_CASE("load cell: one different reading in between and it is alive", "[core]") {
  controller::firmware::LoadCellHealth health(100, 40);
  for (int i = 0; i < 1000; ++i) {
    REQUIRE(health.sample(i % 39 == 0 ? 8 : 7) == 0);
  }
  for (int i = 0; i < 39; ++i) health.sample(9);
  CHECK(health.sample(9) == kFaultLoadCellFrozen);
  health.forgive();
  for (int i = 0; i < 39; ++i) REQUIRE(health.sample(9) == 0);
  CHECK(health.sample(9) == kFaultLoadCellFrozen);
}

TEST_CASE("load cell: one that stops converting is missing after 100 ms", "[core][fault]") {
  Moving bench;
  bench.hal.load_cell_present = false;
  bench.run_ms(95);
  CHECK(bench.rig.faults() == 0);
  bench.run_ms(20);
  check_latched(bench, kFaultLoadCellMissing, bench.moving);
  CHECK(bench.ask(ClearFaults{}) == Refusal::none);
  bench.run_ms(90);
  CHECK(bench.rig.faults() == 0);
  bench.run_ms(20);
  CHECK(bench.rig.faults() == kFaultLoadCellMissing);
  bench.hal.load_cell_present = true;
  bench.run_ms(20);
  check_cleared(bench);
}

TEST_CASE("load cell: out of reset it gets a second to settle", "[core][fault]") {
  Bench bench;
  bench.hal.load_cell_present = false;
  bench.run_ms(999);
  CHECK(bench.rig.faults() == 0);
  bench.run_ms(5);
  CHECK(bench.rig.faults() == kFaultLoadCellMissing);
}

// --- The host and the main loop -----------------------------------------------------------------

TEST_CASE("host: silence beyond its time-out stops and ends the session", "[core][fault]") {
  Moving bench;
  bench.ask(StartSampling{});
  bench.run_ms(60);
  bench.host_alive = false;
  // The last heartbeat was at most 50 ms ago, the time-out is 300 ms.
  bench.run_ms(245);
  CHECK(bench.rig.faults() == 0);
  CHECK_FALSE(bench.idle());
  bench.run_ms(60);
  CHECK(bench.rig.faults() == kFaultHostLost);
  CHECK(bench.idle());
  CHECK_FALSE(bench.has(kFlagSession));
  CHECK_FALSE(bench.has(kFlagSampling));
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  CHECK(bench.events.back().event.kind == EventKind::fault);
  CHECK(bench.events.back().sequence == bench.moving);
  const size_t edges = bench.hal.edges.size();
  const size_t sent = bench.hal.sent.size();
  bench.run_ms(300);
  CHECK(bench.hal.edges.size() == edges);
  CHECK(bench.hal.sent.size() == sent);  // it talks to nobody

  CHECK(bench.ask(Bench::move_to(5)) == Refusal::no_session);
  bench.host_alive = true;
  bench.say_hello();
  REQUIRE(bench.ask(Bench::wide_limits()) == Refusal::none);
  check_cleared(bench);
}

TEST_CASE("host: any good frame is a sign of life, a bad one is not", "[core]") {
  Moving bench;
  bench.host_alive = false;
  SECTION("good") {
    for (int i = 0; i < 5; ++i) {
      bench.run_ms(200);
      bench.ask(Bench::move_to(0));  // refused as busy, but heard
    }
    CHECK(bench.rig.faults() == 0);
  }
  SECTION("bad") {
    for (int i = 0; i < 5; ++i) {
      bench.run_ms(100);
      EncodedFrame frame = encode(Heartbeat{}, 1);
      frame.bytes[1] = static_cast<uint8_t>(frame.bytes[1] ^ 0x10);
      bench.hal.received.insert(bench.hal.received.end(), frame.bytes, frame.bytes + frame.size);
    }
    CHECK(bench.rig.faults() == kFaultHostLost);
  }
}

TEST_CASE("host: the silence left counts down in the rig's own time", "[core]") {
  Bench bench;
  bench.run_ms(200);
  CHECK(bench.rig.heartbeat_left_ms() == controller::firmware::kNoHeartbeatDue);
  bench.say_hello();
  bench.host_alive = false;
  CHECK(bench.rig.heartbeat_left_ms() >= kHeartbeatTimeoutDefaultMs - 1);
  REQUIRE(bench.ask(Bench::wide_limits()) == Refusal::none);
  CHECK(bench.rig.heartbeat_left_ms() >= 299);
  bench.run_ms(100);
  const uint16_t left = bench.rig.heartbeat_left_ms();
  CHECK(left >= 199);
  CHECK(left <= 201);
  // Down to nought and not a millisecond further: whoever holds the clock there loses no host.
  REQUIRE(bench.run_until([&] { return bench.rig.heartbeat_left_ms() == 0; }, 250));
  CHECK(bench.rig.faults() == 0);
  bench.post(Heartbeat{}, 0);
  bench.tick();
  CHECK(bench.rig.heartbeat_left_ms() >= 299);
  REQUIRE(bench.run_until([&] { return bench.rig.heartbeat_left_ms() == 0; }, 350));
  bench.run_ms(1);
  CHECK(bench.rig.faults() == kFaultHostLost);
  CHECK(bench.rig.heartbeat_left_ms() == controller::firmware::kNoHeartbeatDue);
}

TEST_CASE("host: without a session its silence is no fault", "[core]") {
  Bench bench;
  bench.host_alive = false;
  bench.run_ms(5000);
  CHECK(bench.rig.faults() == 0);
}

TEST_CASE("main loop: hanging while moving stops the steps within 11 ms", "[core][fault]") {
  Moving bench;
  bench.main_loop_alive = false;
  const int64_t hung_at = bench.hal.now_ticks;
  bench.run_ms(50);
  CHECK(bench.hal.edges.back().tick - hung_at <= 110);
  CHECK(bench.hal.edges.back().tick - hung_at >= 90);
  CHECK(bench.rig.faults() == kFaultMainLoopStuck);
  bench.main_loop_alive = true;
  check_latched(bench, kFaultMainLoopStuck, bench.moving);
  check_cleared(bench);
}

TEST_CASE("main loop: hanging at rest is the hardware watchdog's business", "[core]") {
  Bench bench;
  bench.open_and_home();
  bench.main_loop_alive = false;
  bench.run_ms(50);
  CHECK(bench.rig.faults() == 0);
}

TEST_CASE("main loop: each turn kicks the watchdog once and may sleep", "[core]") {
  Bench bench;
  bench.run_ms(10);
  CHECK(bench.hal.kicks == 100);
  CHECK(bench.hal.idles == 100);
  bench.main_loop_alive = false;
  bench.run_ms(10);
  CHECK(bench.hal.kicks == 100);
}

// --- Clearing, resetting ------------------------------------------------------------------------

TEST_CASE("faults: a second one is reported with the first still there", "[core][fault]") {
  Moving bench;
  bench.hal.high_switch_steps = bench.hal.carriage_steps + 10;
  bench.wait_for_event(bench.moving);
  const size_t events = bench.events.size();
  bench.hal.emergency_stop = true;
  bench.run_ms(20);
  REQUIRE(bench.events.size() == events + 1);
  CHECK(bench.events.back().event.faults == (kFaultLimitHigh | kFaultEmergencyStop));
  bench.run_ms(100);
  CHECK(bench.events.size() == events + 1);  // once
}

TEST_CASE("faults: clearing when there is none is accepted", "[core]") {
  Bench bench;
  bench.open_and_home();
  CHECK(bench.ask(ClearFaults{}) == Refusal::none);
  CHECK(bench.has(kFlagPositionKnown));
}

TEST_CASE("faults: the same fault after a clear is reported again", "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  for (int i = 0; i < 3; ++i) {
    const size_t events = bench.events.size();
    bench.hal.emergency_stop = true;
    bench.run_ms(5);
    bench.hal.emergency_stop = false;
    CHECK(bench.events.size() == events + 1);
    REQUIRE(bench.ask(ClearFaults{}) == Refusal::none);
  }
}

TEST_CASE("faults: they outlive a new session", "[core][fault]") {
  Moving bench;
  bench.hal.emergency_stop = true;
  bench.run_ms(10);
  bench.hal.emergency_stop = false;
  bench.say_hello();
  REQUIRE(bench.ask(Bench::wide_limits()) == Refusal::none);
  CHECK(bench.rig.faults() == kFaultEmergencyStop);
  CHECK(bench.ask(Bench::home()) == Refusal::faulted);
}

TEST_CASE("reset: the rig wakes with the driver off, no session, no position, and says so",
          "[core]") {
  Bench bench;
  bench.run_ms(1);
  CHECK_FALSE(bench.hal.driver_enabled);
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  CHECK_FALSE(bench.has(kFlagSession));
  REQUIRE(bench.events.size() == 1);
  CHECK(bench.events[0].event.kind == EventKind::started);
  CHECK(bench.ask(Bench::home()) == Refusal::no_session);
  CHECK(bench.ask(Bench::wide_limits()) == Refusal::no_session);
  CHECK(bench.ask(StartSampling{}) == Refusal::no_session);
  CHECK(bench.ask(StopSampling{}) == Refusal::no_session);
  CHECK(bench.ask(ClearFaults{}) == Refusal::no_session);
  CHECK(bench.ask(jog(1)) == Refusal::no_session);
}
