// Moves, stops, jogs: where they end, what they refuse, and that a repeat does not move twice.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "tests/support/bench.hpp"

using namespace protocol::wire;
using test_support::Bench;

namespace {

struct Homed : Bench {
  Homed() { open_and_home(); }
};

Jog jog(int32_t steps, uint32_t speed_steps_per_s = 200) {
  Jog request;
  request.steps = steps;
  request.speed_steps_per_s = speed_steps_per_s;
  return request;
}

// Steps per second over the last `steps` steps.
double speed_of_last(const Bench& bench, size_t steps) {
  const auto& edges = bench.hal.edges;
  const int64_t ticks = edges.back().tick - edges[edges.size() - 1 - steps].tick;
  return static_cast<double>(steps) * 1e4 / static_cast<double>(ticks);
}

}  // namespace

TEST_CASE("move: lands exactly, up and down", "[core]") {
  Homed bench;
  for (const int32_t target : {301, 300, 0, 1, 5000, 4999, 20000, 37999, 38000, 12345, 0}) {
    CAPTURE(target);
    const Event event = bench.perform(Bench::move_to(target, 5000, 50000));
    CHECK(event.kind == EventKind::motion_done);
    CHECK(event.position_steps == target);
    CHECK(bench.rig.position_steps() == target);
    CHECK(bench.hal.carriage_steps == target);
    CHECK(bench.has(kFlagPositionKnown));
  }
  CHECK(bench.rig.faults() == 0);
}

TEST_CASE("move: lands exactly through random moves, count and carriage never part",
          "[core][property]") {
  Homed bench;
  std::mt19937 random(31337);
  for (int i = 0; i < 60; ++i) {
    const auto target = static_cast<int32_t>(random() % 3000);
    const auto speed = static_cast<uint32_t>(1500 + random() % 3500);
    const auto acceleration = static_cast<uint32_t>(5000 + random() % 45000);
    CAPTURE(i, target, speed, acceleration);
    const Event event = bench.perform(Bench::move_to(target, speed, acceleration));
    REQUIRE(event.kind == EventKind::motion_done);
    REQUIRE(bench.hal.carriage_steps == target);
  }
}

TEST_CASE("move: lands exactly with interrupts at every moment that allows one", "[core]") {
  Homed bench;
  REQUIRE(bench.ask(Bench::move_to(6000, 4000, 40000)) == Refusal::none);
  // From now on time passes only where the main loop lets an interrupt in: the tick falls between
  // any two lines that are not locked against it.
  int64_t interrupts = 0;
  bool inside = false;
  bench.hal.on_interrupts_on = [&] {
    if (inside) return;
    inside = true;
    bench.hal.advance();
    bench.rig.on_tick();
    ++interrupts;
    inside = false;
  };
  for (int i = 0; i < 100000 && !bench.idle(); ++i) {
    if (i % 20 == 0) bench.post(Heartbeat{}, 0);
    bench.rig.poll();
  }
  bench.hal.on_interrupts_on = nullptr;
  CHECK(bench.idle());
  CHECK(interrupts > 10000);
  CHECK(bench.rig.faults() == 0);
  CHECK(bench.rig.position_steps() == 6000);
  CHECK(bench.hal.carriage_steps == 6000);
}

TEST_CASE("move: the trapezoid keeps to its acceleration and its speed", "[core]") {
  Homed bench;
  const size_t first = bench.hal.edges.size();
  bench.perform(Bench::move_to(8300, 2000, 4000));
  const auto& edges = bench.hal.edges;
  REQUIRE(edges.size() - first == 8000);
  double speed_max = 0;
  double before = 0;
  double before_at = 0;
  constexpr size_t kBlock = 25;
  for (size_t i = first; i + kBlock < edges.size(); i += kBlock) {
    const double from_s = static_cast<double>(edges[i].tick) / 1e4;
    const double to_s = static_cast<double>(edges[i + kBlock].tick) / 1e4;
    const double speed = kBlock / (to_s - from_s);
    const double at = (from_s + to_s) / 2;
    if (before_at > 0) {
      // A tick of jitter in 25 steps at 2000 steps/s is 0.8 %: 16 steps/s at each end.
      REQUIRE(std::abs(speed - before) <= 4000 * (at - before_at) * 1.05 + 32);
    }
    speed_max = std::max(speed_max, speed);
    before = speed;
    before_at = at;
  }
  CHECK(speed_max <= 2000 * 1.01);
  CHECK(speed_max >= 2000 * 0.99);
}

TEST_CASE("move: the direction is set at least a tick before the first step", "[core]") {
  Homed bench;
  bench.perform(Bench::move_to(1000));
  REQUIRE(bench.ask(Bench::move_to(500)) == Refusal::none);
  CHECK_FALSE(bench.hal.compression);
  const int64_t set_at = bench.hal.now_ticks;
  const size_t before = bench.hal.edges.size();
  bench.run_until([&] { return bench.hal.edges.size() > before; });
  CHECK(bench.hal.edges.back().tick > set_at + 1);
  CHECK(bench.hal.direction_changes_while_high == 0);
}

TEST_CASE("move: to where it stands is done at once, without a step", "[core]") {
  Homed bench;
  const size_t before = bench.hal.edges.size();
  const Event event = bench.perform(Bench::move_to(300));
  CHECK(event.kind == EventKind::motion_done);
  CHECK(bench.hal.edges.size() == before);
}

TEST_CASE("move: the event carries the request's number and its own time", "[core]") {
  Homed bench;
  REQUIRE(bench.ask(Bench::move_to(800)) == Refusal::none);
  const Event event = bench.wait_for_event(bench.sequence);
  CHECK(event.kind == EventKind::motion_done);
  CHECK(bench.rig.time_us() - event.time_us <= 1000);
}

TEST_CASE("move: before homing it is refused, and so is a touch", "[core][fault]") {
  Bench bench;
  bench.open_session();
  CHECK(bench.ask(Bench::move_to(500)) == Refusal::not_homed);
  Touch touch;
  touch.direction = 1;
  touch.threshold_counts = 100;
  touch.speed_steps_per_s = 100;
  touch.acceleration_steps_per_s2 = 1000;
  touch.maximum_steps = 100;
  CHECK(bench.ask(touch) == Refusal::not_homed);
  bench.run_ms(100);
  CHECK(bench.hal.edges.empty());
  CHECK_FALSE(bench.hal.driver_enabled);
}

TEST_CASE("move: beyond the travel limits it is refused", "[core][fault]") {
  Homed bench;
  const size_t before = bench.hal.edges.size();
  CHECK(bench.ask(Bench::move_to(38001)) == Refusal::outside_travel);
  CHECK(bench.ask(Bench::move_to(-1)) == Refusal::outside_travel);
  CHECK(bench.ask(Bench::move_to(INT32_MAX)) == Refusal::outside_travel);
  CHECK(bench.ask(Bench::move_to(INT32_MIN)) == Refusal::outside_travel);
  bench.run_ms(50);
  CHECK(bench.hal.edges.size() == before);
  CHECK(bench.rig.faults() == 0);
}

TEST_CASE("move: a speed or acceleration out of range is refused", "[core][fault]") {
  Homed bench;
  CHECK(bench.ask(Bench::move_to(500, 0, 1000)) == Refusal::out_of_range);
  CHECK(bench.ask(Bench::move_to(500, 5001, 1000)) == Refusal::out_of_range);
  CHECK(bench.ask(Bench::move_to(500, 100, 0)) == Refusal::out_of_range);
  CHECK(bench.ask(Bench::move_to(500, 100, 50001)) == Refusal::out_of_range);
  CHECK(bench.ask(Bench::move_to(500, 5000, 50000)) == Refusal::none);
}

TEST_CASE("move: a second motion while one runs is refused, and the first goes on", "[core]") {
  Homed bench;
  REQUIRE(bench.ask(Bench::move_to(4000)) == Refusal::none);
  const uint16_t first = bench.sequence;
  CHECK(bench.ask(Bench::move_to(100)) == Refusal::busy);
  CHECK(bench.ask(Bench::home()) == Refusal::busy);
  CHECK(bench.ask(jog(10)) == Refusal::busy);
  CHECK(bench.wait_for_event(first).kind == EventKind::motion_done);
  CHECK(bench.hal.carriage_steps == 4000);
}

TEST_CASE("move: inside again after the limits have closed over the rig", "[core]") {
  Homed bench;
  bench.perform(Bench::move_to(5000));
  SetLimits limits = Bench::wide_limits();
  limits.travel_high_steps = 4000;
  REQUIRE(bench.ask(limits) == Refusal::none);
  CHECK(bench.ask(Bench::move_to(4500)) == Refusal::outside_travel);
  CHECK(bench.perform(Bench::move_to(3000)).kind == EventKind::motion_done);
  CHECK(bench.rig.faults() == 0);
}

TEST_CASE("stop: in mid-move decelerates and keeps the position", "[core]") {
  Homed bench;
  REQUIRE(bench.ask(Bench::move_to(20000, 2000, 4000)) == Refusal::none);
  const uint16_t moving = bench.sequence;
  bench.run_ms(1500);
  const int32_t asked_at = bench.hal.carriage_steps;
  REQUIRE(bench.ask(Stop{}) == Refusal::none);
  CHECK(bench.has(kFlagStopping));
  const Event event = bench.wait_for_event(moving);
  CHECK(event.kind == EventKind::stopped);
  CHECK(event.position_steps == bench.hal.carriage_steps);
  CHECK(bench.has(kFlagPositionKnown));
  CHECK_FALSE(bench.has(kFlagStopping));
  CHECK(bench.rig.faults() == 0);
  // v^2 / (2 a) = 500 steps, and what it ran until the request was read.
  const int32_t way = bench.hal.carriage_steps - asked_at;
  CHECK(way >= 480);
  CHECK(way <= 510);
  CHECK(speed_of_last(bench, 5) < 400);  // it came to rest slowly
  CHECK(bench.perform(Bench::move_to(300)).kind == EventKind::motion_done);
  CHECK(bench.hal.carriage_steps == 300);
}

TEST_CASE("stop: while nothing moves is accepted and changes nothing", "[core]") {
  Homed bench;
  const size_t events = bench.events.size();
  CHECK(bench.ask(Stop{}) == Refusal::none);
  bench.run_ms(50);
  CHECK(bench.events.size() == events);
  CHECK(bench.perform(Bench::move_to(700)).kind == EventKind::motion_done);
}

TEST_CASE("halt: makes not one step more, and the position is lost", "[core]") {
  Homed bench;
  REQUIRE(bench.ask(Bench::move_to(20000, 2000, 4000)) == Refusal::none);
  const uint16_t moving = bench.sequence;
  bench.run_ms(1000);
  // At every phase between two steps, the tick before a due step included.
  for (int extra = GENERATE(0, 1, 2, 3, 4); extra > 0; --extra) bench.tick();
  bench.post(Halt{}, ++bench.sequence);
  bench.tick();  // the request is read in this one
  const size_t edges = bench.hal.edges.size();
  CHECK(bench.wait_for_event(moving).kind == EventKind::stopped);
  bench.run_ms(100);
  CHECK(bench.hal.edges.size() == edges);
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  CHECK(bench.ask(Bench::move_to(300)) == Refusal::not_homed);
}

TEST_CASE("halt: at rest keeps the position", "[core]") {
  Homed bench;
  CHECK(bench.ask(Halt{}) == Refusal::none);
  CHECK(bench.has(kFlagPositionKnown));
}

TEST_CASE("stop and halt: are heard without a session too", "[core]") {
  Bench bench;
  bench.run_ms(100);
  CHECK(bench.ask(Stop{}) == Refusal::none);
  CHECK(bench.ask(Halt{}) == Refusal::none);
}

TEST_CASE("duplicates: a repeated move is answered again and does not move twice", "[core]") {
  Homed bench;
  REQUIRE(bench.ask_as(Bench::move_to(1000), 7000) == Refusal::none);
  CHECK(bench.ask_as(Bench::move_to(1000), 7000) == Refusal::none);  // while it runs
  CHECK(bench.wait_for_event(7000).kind == EventKind::motion_done);
  REQUIRE(bench.ask_as(Bench::move_to(400), 7001) == Refusal::none);
  CHECK(bench.wait_for_event(7001).kind == EventKind::motion_done);
  CHECK(bench.ask_as(Bench::move_to(1000), 7000) == Refusal::none);  // late
  bench.run_ms(200);
  CHECK(bench.idle());
  CHECK(bench.hal.carriage_steps == 400);
}

TEST_CASE("duplicates: a repeated jog does not jog twice", "[core]") {
  Homed bench;
  REQUIRE(bench.ask_as(jog(50), 7000) == Refusal::none);
  CHECK(bench.wait_for_event(7000).kind == EventKind::motion_done);
  CHECK(bench.ask_as(jog(50), 7000) == Refusal::none);
  bench.run_ms(500);
  CHECK(bench.hal.carriage_steps == 350);
}

TEST_CASE("duplicates: a refusal is repeated too, a new number is judged anew", "[core]") {
  Homed bench;
  REQUIRE(bench.ask_as(Bench::move_to(2000), 7000) == Refusal::none);
  CHECK(bench.ask_as(Bench::move_to(500), 7001) == Refusal::busy);
  bench.wait_for_event(7000);
  CHECK(bench.ask_as(Bench::move_to(500), 7001) == Refusal::busy);
  CHECK(bench.ask_as(Bench::move_to(500), 7002) == Refusal::none);
}

TEST_CASE("duplicates: the same number on another request is another request", "[core]") {
  Homed bench;
  REQUIRE(bench.ask_as(Bench::move_to(5000), 7000) == Refusal::none);
  REQUIRE(bench.ask_as(Stop{}, 7000) == Refusal::none);
  CHECK(bench.wait_for_event(7000).kind == EventKind::stopped);
}

TEST_CASE("duplicates: a new session starts its numbers afresh", "[core]") {
  Homed bench;
  REQUIRE(bench.ask_as(Bench::home(), 1) == Refusal::none);
  bench.wait_for_event(1);
  bench.say_hello();
  REQUIRE(bench.ask(Bench::wide_limits()) == Refusal::none);
  const size_t before = bench.hal.edges.size();
  REQUIRE(bench.ask_as(Bench::home(), 1) == Refusal::none);
  CHECK(bench.wait_for_event(1).kind == EventKind::homed);
  CHECK(bench.hal.edges.size() > before);
}

TEST_CASE("recent requests: the last four are kept, with their type", "[core]") {
  controller::firmware::RecentRequests recent;
  CHECK(recent.find(0, 0x08) == nullptr);
  for (uint16_t i = 0; i < 5; ++i) {
    recent.remember(i, 0x08, i % 2 == 0 ? Refusal::none : Refusal::busy);
  }
  CHECK(recent.find(0, 0x08) == nullptr);
  for (uint16_t i = 1; i < 5; ++i) {
    REQUIRE(recent.find(i, 0x08) != nullptr);
    CHECK(*recent.find(i, 0x08) == (i % 2 == 0 ? Refusal::none : Refusal::busy));
    CHECK(recent.find(i, 0x09) == nullptr);
  }
  recent.forget();
  CHECK(recent.find(4, 0x08) == nullptr);
}

TEST_CASE("jog: moves by its steps, within the travel limits", "[core]") {
  Homed bench;
  CHECK(bench.perform(jog(120)).position_steps == 420);
  CHECK(bench.perform(jog(-400)).position_steps == 20);
  CHECK(bench.hal.carriage_steps == 20);
  CHECK(bench.ask(jog(-21)) == Refusal::outside_travel);
  CHECK(bench.has(kFlagPositionKnown));
}

TEST_CASE("jog: is slow and short, or refused", "[core][fault]") {
  Homed bench;
  CHECK(bench.ask(jog(0)) == Refusal::out_of_range);
  CHECK(bench.ask(jog(kJogStepsMax + 1)) == Refusal::out_of_range);
  CHECK(bench.ask(jog(-kJogStepsMax - 1)) == Refusal::out_of_range);
  CHECK(bench.ask(jog(10, 0)) == Refusal::out_of_range);
  CHECK(bench.ask(jog(10, kJogSpeedMaxStepsPerS + 1)) == Refusal::out_of_range);
  CHECK(bench.ask(jog(kJogStepsMax, kJogSpeedMaxStepsPerS)) == Refusal::none);
}

TEST_CASE("jog: with the position unknown only away from a tripped switch", "[core][fault]") {
  Bench bench;
  bench.open_session();
  CHECK(bench.ask(jog(10)) == Refusal::not_away_from_switch);
  CHECK(bench.ask(jog(-10)) == Refusal::not_away_from_switch);
  bench.hal.carriage_steps = -5;
  CHECK(bench.ask(jog(-10)) == Refusal::not_away_from_switch);
  CHECK(bench.perform(jog(10)).kind == EventKind::motion_done);
  CHECK(bench.hal.carriage_steps == 5);
  bench.hal.carriage_steps = 40003;
  CHECK(bench.ask(jog(10)) == Refusal::not_away_from_switch);
  CHECK(bench.perform(jog(-10)).kind == EventKind::motion_done);
  CHECK(bench.hal.carriage_steps == 39993);
  CHECK_FALSE(bench.has(kFlagPositionKnown));
}

TEST_CASE("limits: no motion before the session has set them", "[core][fault]") {
  Bench bench;
  bench.run_ms(100);
  bench.say_hello();
  CHECK(bench.ask(Bench::home()) == Refusal::limits_not_set);
  CHECK(bench.ask(Bench::move_to(5)) == Refusal::limits_not_set);
  CHECK(bench.ask(jog(5)) == Refusal::limits_not_set);
  CHECK(bench.ask(Bench::wide_limits()) == Refusal::none);
  CHECK(bench.has(kFlagLimitsSet));
  CHECK(bench.ask(Bench::home()) == Refusal::none);
}

TEST_CASE("limits: what makes no sense is refused and the old ones stand", "[core][fault]") {
  Homed bench;
  SetLimits limits = Bench::wide_limits();
  SECTION("force upside down") {
    std::swap(limits.force_low_counts, limits.force_high_counts);
  }
  SECTION("no force range") {
    limits.force_low_counts = limits.force_high_counts;
  }
  SECTION("force below the converter") {
    limits.force_low_counts = kCountsMin - 1;
  }
  SECTION("force above the converter") {
    limits.force_high_counts = kCountsMax + 1;
  }
  SECTION("travel upside down") {
    limits.travel_low_steps = 38001;
  }
  SECTION("travel beyond any press") {
    limits.travel_high_steps = 10000001;
  }
  SECTION("travel beyond any press, below") {
    limits.travel_low_steps = -10000001;
  }
  SECTION("heartbeat too short") {
    limits.heartbeat_timeout_ms = kHeartbeatTimeoutMinMs - 1;
  }
  SECTION("heartbeat too long") {
    limits.heartbeat_timeout_ms = kHeartbeatTimeoutMaxMs + 1;
  }
  CHECK(bench.ask(limits) == Refusal::out_of_range);
  CHECK(bench.perform(Bench::move_to(38000, 5000, 50000)).kind == EventKind::motion_done);
  CHECK(bench.ask(Bench::move_to(38001)) == Refusal::outside_travel);
}

TEST_CASE("limits: no motion before the load cell has spoken", "[core][fault]") {
  Bench bench;
  bench.hal.load_cell_present = false;
  bench.run_ms(10);
  bench.say_hello();
  REQUIRE(bench.ask(Bench::wide_limits()) == Refusal::none);
  CHECK(bench.ask(Bench::home()) == Refusal::no_reading);
}
