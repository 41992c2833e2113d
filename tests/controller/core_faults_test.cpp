// Faults: each stops at once, loses the position, stays latched until cleared.
#include <catch2/catch.hpp>
#include <functional>

#include "tests/support/bench.hpp"

using namespace protocol::wire;
using test_support::Bench;

namespace {

// Homed, and then moving up at 2000 steps/s for half a second.
struct Moving : Bench {
  Moving() {
    open_and_home();
    if (ask(move_to(30000)) != Refusal::none) throw std::runtime_error("does not move");
    moving = sequence;
    run_ms(500);
  }

  uint16_t moving = 0;
};

// What holds after any fault.
void check_latched(Bench& bench, uint16_t fault, uint16_t motion_sequence) {
  const Event event = bench.wait_for_event(motion_sequence);
  CHECK(event.kind == EventKind::fault);
  CHECK(event.faults == fault);
  CHECK(bench.rig.faults() == fault);
  CHECK(bench.idle());
  CHECK(bench.has(kFlagFaulted));
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  const size_t edges = bench.hal.edges.size();
  CHECK(bench.ask(Bench::move_to(400)) == Refusal::faulted);
  CHECK(bench.ask(Bench::home()) == Refusal::faulted);
  bench.run_ms(200);
  CHECK(bench.hal.edges.size() == edges);
  CHECK(bench.rig.faults() == fault);  // it does not go away by itself
}

void check_cleared(Bench& bench) {
  CHECK(bench.ask(ClearFaults{}) == Refusal::none);
  CHECK(bench.rig.faults() == 0);
  CHECK(bench.ask(Bench::move_to(400)) == Refusal::not_homed);
  CHECK(bench.perform(Bench::home()).kind == EventKind::homed);
  CHECK(bench.perform(Bench::move_to(400)).kind == EventKind::motion_done);
}

Jog jog(int32_t steps) {
  Jog request;
  request.steps = steps;
  request.speed_steps_per_s = 200;
  return request;
}

}  // namespace

// --- Emergency stop -----------------------------------------------------------------------------

TEST_CASE("emergency stop: no step after it, the driver is off, clear needs it released",
          "[core][fault]") {
  Moving bench;
  const size_t edges = bench.hal.edges.size();
  CHECK(bench.hal.driver_enabled);
  bench.hal.emergency_stop = true;
  check_latched(bench, kFaultEmergencyStop, bench.moving);
  CHECK(bench.hal.edges.size() == edges);
  CHECK_FALSE(bench.hal.driver_enabled);
  CHECK_FALSE(bench.has(kFlagDriverEnabled));
  CHECK(bench.has(kFlagInputEmergencyStop));

  CHECK(bench.ask(ClearFaults{}) == Refusal::inputs_active);
  CHECK(bench.rig.faults() == kFaultEmergencyStop);
  bench.hal.emergency_stop = false;
  bench.run_ms(100);
  CHECK(bench.rig.faults() == kFaultEmergencyStop);
  CHECK_FALSE(bench.hal.driver_enabled);
  check_cleared(bench);
  CHECK(bench.hal.driver_enabled);
  CHECK(bench.hal.steps_while_disabled == 0);
}

TEST_CASE("emergency stop: the tick sees it before the step, even without the edge interrupt",
          "[core][fault]") {
  Moving bench;
  bench.edge_interrupt = false;
  bench.main_loop_alive = false;  // nobody but the tick can stop it
  bench.run_ms(2);
  // At every phase between two steps: 2000 steps/s are five ticks a step.
  for (int extra = GENERATE(0, 1, 2, 3, 4); extra > 0; --extra) bench.tick();
  const size_t edges = bench.hal.edges.size();
  bench.hal.emergency_stop = true;
  for (int i = 0; i < 50; ++i) bench.tick();
  CHECK(bench.hal.edges.size() == edges);
  CHECK(bench.rig.faults() == kFaultEmergencyStop);
  CHECK_FALSE(bench.hal.driver_enabled);
}

TEST_CASE("emergency stop: the edge interrupt cuts the driver without waiting for a step",
          "[core][fault]") {
  Moving bench;
  bench.hal.emergency_stop = true;
  bench.rig.on_input_edge();
  CHECK_FALSE(bench.hal.driver_enabled);
  CHECK(bench.rig.faults() == kFaultEmergencyStop);
}

TEST_CASE("emergency stop: at rest it latches too, by edge and by level", "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  SECTION("by edge") {
    bench.main_loop_alive = false;
    bench.hal.emergency_stop = true;
    bench.tick();
  }
  SECTION("by level") {
    bench.edge_interrupt = false;
    bench.hal.emergency_stop = true;
    bench.tick();
  }
  CHECK(bench.rig.faults() == kFaultEmergencyStop);
  CHECK_FALSE(bench.hal.driver_enabled);
  bench.main_loop_alive = true;
  bench.run_ms(5);
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  REQUIRE_FALSE(bench.events.empty());
  CHECK(bench.events.back().event.kind == EventKind::fault);
  CHECK(bench.events.back().sequence == 0);  // it concludes no motion
}

TEST_CASE("emergency stop: held through a reset it is seen at once", "[core][fault]") {
  Bench bench;
  bench.hal.emergency_stop = true;
  bench.run_ms(100);
  CHECK(bench.rig.faults() == kFaultEmergencyStop);
  bench.say_hello();
  REQUIRE(bench.ask(Bench::wide_limits()) == Refusal::none);
  CHECK(bench.ask(Bench::home()) == Refusal::faulted);
  CHECK_FALSE(bench.hal.driver_enabled);
}

TEST_CASE("emergency stop: a short tap is latched", "[core][fault]") {
  Moving bench;
  bench.hal.emergency_stop = true;
  bench.tick();
  bench.hal.emergency_stop = false;
  check_latched(bench, kFaultEmergencyStop, bench.moving);
}

TEST_CASE("emergency stop: during homing on the switch it is the emergency stop", "[core][fault]") {
  Bench bench;
  bench.open_session();
  REQUIRE(bench.ask(Bench::home()) == Refusal::none);
  const uint16_t homing = bench.sequence;
  bench.run_until([&] { return bench.hal.carriage_steps == 3; });
  bench.hal.emergency_stop = true;
  CHECK(bench.wait_for_event(homing).kind == EventKind::fault);
  CHECK((bench.rig.faults() & kFaultEmergencyStop) != 0);
  CHECK(bench.hal.carriage_steps >= 2);
}

// --- Limit switches -----------------------------------------------------------------------------

TEST_CASE("limit switch: ahead stops on the very step, behind it does not matter",
          "[core][fault]") {
  Moving bench;
  bench.hal.low_switch_stuck = true;  // behind
  bench.run_ms(100);
  CHECK(bench.rig.faults() == 0);
  bench.hal.low_switch_stuck = false;
  const int32_t at = bench.hal.carriage_steps + 77;
  bench.hal.high_switch_steps = at;
  check_latched(bench, kFaultLimitHigh, bench.moving);
  CHECK(bench.hal.carriage_steps == at);
  CHECK(bench.hal.driver_enabled);  // it holds: a spring would drive it back
}

TEST_CASE("limit switch: the low one is a fault unless homing looks for it", "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  bench.perform(Bench::move_to(2000));
  bench.hal.low_switch_steps = 1200;
  REQUIRE(bench.ask(Bench::move_to(100)) == Refusal::none);
  check_latched(bench, kFaultLimitLow, bench.sequence);
  CHECK(bench.hal.carriage_steps == 1200);
}

TEST_CASE("limit switch: at rest it is no fault", "[core]") {
  Bench bench;
  bench.open_and_home();
  bench.hal.high_switch_stuck = true;
  bench.run_ms(100);
  CHECK(bench.rig.faults() == 0);
  CHECK(bench.has(kFlagInputHigh));
  CHECK(bench.has(kFlagPositionKnown));
}

TEST_CASE("limit switch: the way off it is a jog, then clear, then home", "[core][fault]") {
  Moving bench;
  bench.hal.high_switch_steps = bench.hal.carriage_steps + 10;
  bench.wait_for_event(bench.moving);
  CHECK(bench.ask(ClearFaults{}) == Refusal::inputs_active);
  CHECK(bench.ask(jog(20)) == Refusal::not_away_from_switch);
  CHECK(bench.perform(jog(-20)).kind == EventKind::motion_done);
  CHECK(bench.rig.faults() == kFaultLimitHigh);  // jogging clears nothing
  CHECK_FALSE(bench.has(kFlagInputHigh));
  CHECK(bench.ask(jog(-20)) == Refusal::not_away_from_switch);
  check_cleared(bench);
}

TEST_CASE("limit switch: with an emergency stop on top there is still a way off", "[core][fault]") {
  Moving bench;
  bench.hal.high_switch_steps = bench.hal.carriage_steps + 10;
  bench.wait_for_event(bench.moving);
  bench.hal.emergency_stop = true;
  bench.run_ms(10);
  CHECK(bench.rig.faults() == (kFaultLimitHigh | kFaultEmergencyStop));
  CHECK(bench.ask(jog(-20)) == Refusal::faulted);
  bench.hal.emergency_stop = false;
  CHECK(bench.ask(ClearFaults{}) == Refusal::inputs_active);
  CHECK(bench.rig.faults() == kFaultLimitHigh);  // the released one is gone
  CHECK(bench.perform(jog(-20)).kind == EventKind::motion_done);
  check_cleared(bench);
}

TEST_CASE("limit switch: a fault while jogging off ends the jog", "[core][fault]") {
  Moving bench;
  bench.hal.high_switch_steps = bench.hal.carriage_steps + 10;
  bench.wait_for_event(bench.moving);
  REQUIRE(bench.ask(jog(-1000)) == Refusal::none);
  const uint16_t jogging = bench.sequence;
  bench.run_ms(200);
  CHECK(bench.ask(ClearFaults{}) == Refusal::busy);
  bench.hal.low_switch_stuck = true;
  const Event event = bench.wait_for_event(jogging);
  CHECK(event.kind == EventKind::fault);
  CHECK(event.faults == (kFaultLimitLow | kFaultLimitHigh));
  CHECK(bench.idle());
}

// --- Travel -------------------------------------------------------------------------------------

TEST_CASE("travel: soft limits hold only while the position is known", "[core]") {
  Bench bench;
  bench.hal.carriage_steps = 30000;
  bench.open_session();
  SetLimits limits = Bench::wide_limits();
  limits.travel_high_steps = 500;
  REQUIRE(bench.ask(limits) == Refusal::none);
  CHECK(bench.perform(Bench::home()).kind == EventKind::homed);  // from far outside
  CHECK(bench.ask(Bench::move_to(501)) == Refusal::outside_travel);
}

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
