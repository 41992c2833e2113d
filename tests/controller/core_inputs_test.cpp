// Inputs: emergency stop, limit switches, and the travel limits beside them.
#include <catch2/catch.hpp>

#include "tests/support/moving_bench.hpp"

using namespace protocol::wire;
using test_support::Bench;
using test_support::check_cleared;
using test_support::check_latched;
using test_support::jog;
using test_support::Moving;

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

TEST_CASE("emergency stop: a tap at any moment while a request is judged wins over the request",
          "[core][property][fault]") {
  // A move is also refused for its lost position; a homing has only the latched fault.
  const bool homing = GENERATE(false, true);
  bool moved = false;
  for (int window = 1; !moved; ++window) {
    Bench bench;
    bench.open_and_home();
    const size_t edges = bench.hal.edges.size();
    int seen = 0;
    bool tapped = false;
    bench.hal.on_interrupts_on = [&] {
      if (++seen != window) return;
      tapped = true;
      bench.hal.emergency_stop = true;
      bench.rig.on_input_edge();
      bench.hal.emergency_stop = false;  // released again before anybody else looks
    };
    if (homing) {
      bench.post(Bench::home(), 9000);
    } else {
      bench.post(Bench::move_to(600), 9000);
    }
    bench.rig.poll();
    bench.hal.on_interrupts_on = nullptr;
    bench.run_ms(300);
    CAPTURE(homing, window);
    moved = !tapped;  // the poll has fewer moments than this: each has had its turn
    REQUIRE((bench.hal.edges.size() > edges) == moved);
    REQUIRE(bench.hal.driver_enabled == moved);
    REQUIRE(bench.rig.faults() == (moved ? 0 : kFaultEmergencyStop));
    REQUIRE(window < 1000);
  }
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

TEST_CASE("travel: limits that close on a running move stop it at the limit", "[core][fault]") {
  Moving bench;
  SetLimits limits = Bench::wide_limits();
  limits.travel_high_steps = bench.hal.carriage_steps + 400;
  REQUIRE(bench.ask(limits) == Refusal::none);
  check_latched(bench, kFaultTravel, bench.moving);
  CHECK(bench.hal.carriage_steps == limits.travel_high_steps);
  check_cleared(bench);
}

TEST_CASE("travel: the same on the way down", "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  bench.perform(Bench::move_to(5000, 5000, 50000));
  REQUIRE(bench.ask(Bench::move_to(10)) == Refusal::none);
  const uint16_t moving = bench.sequence;
  bench.run_ms(300);
  SetLimits limits = Bench::wide_limits();
  limits.travel_low_steps = 3000;
  REQUIRE(bench.ask(limits) == Refusal::none);
  check_latched(bench, kFaultTravel, moving);
  CHECK(bench.hal.carriage_steps == 3000);
}

TEST_CASE("travel: limits that have closed behind do not matter on the way in", "[core]") {
  Bench bench;
  bench.open_and_home();
  bench.perform(Bench::move_to(5000, 5000, 50000));
  REQUIRE(bench.ask(Bench::move_to(10)) == Refusal::none);
  const uint16_t moving = bench.sequence;
  bench.run_ms(100);
  SetLimits limits = Bench::wide_limits();
  limits.travel_high_steps = 1000;
  REQUIRE(bench.ask(limits) == Refusal::none);
  CHECK(bench.wait_for_event(moving).kind == EventKind::motion_done);
  CHECK(bench.hal.carriage_steps == 10);
}
