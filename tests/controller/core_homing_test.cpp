// Homing: the legs, where zero is, and every way it can fail.
#include <algorithm>
#include <catch2/catch.hpp>
#include <stdexcept>

#include "tests/support/bench.hpp"

using namespace protocol::wire;
using controller::firmware::Homing;
using controller::firmware::HomingLeg;
using controller::firmware::HomingVerdict;
using test_support::Bench;

namespace {

// Counts how often the carriage turned round.
int reversals(const Bench& bench) {
  int count = 0;
  int direction = 0;
  for (size_t i = 1; i < bench.hal.edges.size(); ++i) {
    const int step = bench.hal.edges[i].carriage_steps - bench.hal.edges[i - 1].carriage_steps;
    if (direction != 0 && step != direction) ++count;
    direction = step;
  }
  return count;
}

}  // namespace

TEST_CASE("homing: ends off the switch, with zero where the switch trips", "[core]") {
  Bench bench;
  bench.hal.carriage_steps = 5000;
  bench.hal.low_switch_steps = 700;
  bench.open_session();
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  const Event event = bench.perform(Bench::home());
  CHECK(event.kind == EventKind::homed);
  CHECK(event.position_steps == 300);
  CHECK(event.faults == 0);
  CHECK(bench.rig.position_steps() == 300);
  CHECK(bench.hal.carriage_steps == 700 + 300);
  CHECK(bench.has(kFlagPositionKnown));
  CHECK_FALSE(bench.has(kFlagInputLow));
  CHECK(bench.idle());
}

TEST_CASE("homing: approaches, backs off, approaches again, leaves", "[core]") {
  Bench bench;
  bench.hal.carriage_steps = 5000;
  bench.open_session();
  bench.perform(Bench::home());
  CHECK(reversals(bench) == 3);
  const auto lowest = std::min_element(
      bench.hal.edges.begin(), bench.hal.edges.end(),
      [](const auto& a, const auto& b) { return a.carriage_steps < b.carriage_steps; });
  CHECK(lowest->carriage_steps == 0);  // the switch stops it on the very step that trips it
}

TEST_CASE("homing: the second approach is the slow one", "[core]") {
  Bench bench;
  bench.hal.carriage_steps = 5000;
  bench.open_session();
  bench.perform(Bench::home());
  // Every arrival at the switch, with the time of the step before it.
  std::vector<int64_t> last_intervals;
  for (size_t i = 1; i < bench.hal.edges.size(); ++i) {
    if (bench.hal.edges[i].carriage_steps == 0) {
      last_intervals.push_back(bench.hal.edges[i].tick - bench.hal.edges[i - 1].tick);
    }
  }
  REQUIRE(last_intervals.size() == 2);
  CHECK(last_intervals[0] <= 3);   // 4000 steps/s: 2.5 ticks
  CHECK(last_intervals[1] >= 49);  // 200 steps/s: 50 ticks
}

TEST_CASE("homing: zero is where the slow approach trips, not the fast one", "[core]") {
  Bench bench;
  bench.open_session();
  REQUIRE(bench.ask(Bench::home()) == Refusal::none);
  bench.run_until([&] { return bench.hal.carriage_steps == 0; });
  bench.run_until([&] { return bench.hal.carriage_steps == 100; });
  bench.hal.low_switch_steps = -7;  // found fast, the switch had tripped early
  CHECK(bench.wait_for_event(bench.sequence).kind == EventKind::homed);
  CHECK(bench.rig.position_steps() == 300);
  CHECK(bench.hal.carriage_steps == -7 + 300);
}

TEST_CASE("homing: finds the same zero from wherever it starts", "[core][property]") {
  for (const int32_t start : {1, 2, 17, 299, 300, 301, 1234, 20000, 39999}) {
    Bench bench;
    bench.hal.carriage_steps = start;
    bench.open_session();
    CAPTURE(start);
    CHECK(bench.perform(Bench::home()).kind == EventKind::homed);
    CHECK(bench.hal.carriage_steps == 300);
    CHECK(bench.rig.position_steps() == 300);
  }
}

TEST_CASE("homing: a rig that starts on the switch leaves it first", "[core]") {
  Bench bench;
  bench.hal.carriage_steps = -40;
  bench.open_session();
  CHECK(bench.has(kFlagInputLow));
  CHECK(bench.perform(Bench::home()).kind == EventKind::homed);
  CHECK(bench.hal.edges.front().carriage_steps == -39);
  CHECK(bench.hal.carriage_steps == 300);
}

TEST_CASE("homing: a carriage that overran the switch gets a few tries to leave it", "[core]") {
  Bench bench;
  bench.hal.carriage_steps = -1000;  // more than three times the back-off
  bench.open_session();
  CHECK(bench.perform(Bench::home()).kind == EventKind::homed);
  CHECK(bench.hal.carriage_steps == 300);
}

TEST_CASE("homing: a rig that starts on the high switch comes down from it", "[core]") {
  Bench bench;
  bench.hal.carriage_steps = 40010;
  bench.open_session();
  CHECK(bench.has(kFlagInputHigh));
  CHECK(bench.perform(Bench::home()).kind == EventKind::homed);
  CHECK(bench.rig.faults() == 0);
}

TEST_CASE("homing: may be done again, and finds its zero again", "[core]") {
  Bench bench;
  bench.open_and_home();
  bench.perform(Bench::move_to(2000));
  CHECK(bench.perform(Bench::home()).kind == EventKind::homed);
  CHECK(bench.hal.carriage_steps == 300);
  CHECK(bench.rig.position_steps() == 300);
}

TEST_CASE("homing: while it runs the position is unknown", "[core]") {
  Bench bench;
  bench.open_and_home();
  REQUIRE(bench.ask(Bench::home()) == Refusal::none);
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  CHECK(bench.rig.motion() == Motion::homing);
}

TEST_CASE("homing: a switch that never comes fails it", "[core][fault]") {
  Bench bench;
  bench.hal.low_switch_steps = -1000000;
  bench.open_session();
  Home home = Bench::home();
  home.maximum_steps = 2000;
  const Event event = bench.perform(home);
  CHECK(event.kind == EventKind::fault);
  CHECK(event.faults == kFaultHomingFailed);
  CHECK(bench.hal.carriage_steps == 1000 - 2000);
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  CHECK(bench.idle());
}

TEST_CASE("homing: a switch that never lets go fails it after a bounded way", "[core][fault]") {
  Bench bench;
  bench.hal.low_switch_stuck = true;
  bench.open_session();
  const Event event = bench.perform(Bench::home());
  CHECK(event.kind == EventKind::fault);
  CHECK(event.faults == kFaultHomingFailed);
  CHECK(bench.hal.carriage_steps == 1000 + Homing::kBackOffTries * 300);
}

TEST_CASE("homing: the switch going bad on the last leg fails it", "[core][fault]") {
  Bench bench;
  bench.open_session();
  REQUIRE(bench.ask(Bench::home()) == Refusal::none);
  // The second arrival at the switch: from there on it sticks.
  int arrivals = 0;
  bool was_on = false;
  bench.run_until([&] {
    const bool on = bench.hal.carriage_steps <= 0;
    if (on && !was_on) ++arrivals;
    was_on = on;
    return arrivals == 2;
  });
  bench.hal.low_switch_stuck = true;
  const Event event = bench.wait_for_event(bench.sequence);
  CHECK(event.kind == EventKind::fault);
  CHECK(event.faults == kFaultHomingFailed);
  CHECK_FALSE(bench.has(kFlagPositionKnown));
}

TEST_CASE("homing: both switches tripped, as by a cut cable, is a fault", "[core][fault]") {
  Bench bench;
  bench.hal.low_switch_stuck = true;
  bench.hal.high_switch_stuck = true;
  bench.open_session();
  const Event event = bench.perform(Bench::home());
  CHECK(event.kind == EventKind::fault);
  CHECK(event.faults == kFaultLimitHigh);
  CHECK(bench.hal.edges.empty());
}

TEST_CASE("homing: stop ends it with the position unknown", "[core]") {
  Bench bench;
  bench.hal.carriage_steps = 20000;
  bench.open_session();
  REQUIRE(bench.ask(Bench::home()) == Refusal::none);
  const uint16_t homing = bench.sequence;
  bench.run_ms(500);
  REQUIRE(bench.ask(Stop{}) == Refusal::none);
  CHECK(bench.wait_for_event(homing).kind == EventKind::stopped);
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  CHECK(bench.rig.faults() == 0);
  const int32_t rest = bench.hal.carriage_steps;
  bench.run_ms(200);
  CHECK(bench.hal.carriage_steps == rest);
}

TEST_CASE("homing: refuses what makes no sense", "[core][fault]") {
  Bench bench;
  bench.open_session();
  Home home = Bench::home();
  SECTION("no speed") {
    home.speed_steps_per_s = 0;
  }
  SECTION("no slow speed") {
    home.slow_speed_steps_per_s = 0;
  }
  SECTION("too fast") {
    home.speed_steps_per_s = 5001;
  }
  SECTION("too fast when slow") {
    home.slow_speed_steps_per_s = 5001;
  }
  SECTION("no acceleration") {
    home.acceleration_steps_per_s2 = 0;
  }
  SECTION("too steep") {
    home.acceleration_steps_per_s2 = 50001;
  }
  SECTION("no back-off") {
    home.back_off_steps = 0;
  }
  SECTION("a back-off longer than the whole way") {
    home.back_off_steps = 60001;
  }
  SECTION("an endless way") {
    home.maximum_steps = 0xFFFFFFFFu;
  }
  CHECK(bench.ask(home) == Refusal::out_of_range);
  bench.run_ms(50);
  CHECK(bench.hal.edges.empty());
  CHECK(bench.idle());
}

TEST_CASE("homing legs: each end leads to the right next leg", "[core]") {
  Homing homing;
  homing.begin(false);
  CHECK(homing.leg == HomingLeg::approach);
  CHECK(homing.towards_switch());
  CHECK(homing.next(true, true) == HomingVerdict::next_leg);
  CHECK(homing.leg == HomingLeg::back_off);
  CHECK_FALSE(homing.towards_switch());
  CHECK(homing.next(false, false) == HomingVerdict::next_leg);
  CHECK(homing.leg == HomingLeg::reapproach);
  CHECK(homing.towards_switch());
  CHECK(homing.next(true, true) == HomingVerdict::next_leg);
  CHECK(homing.leg == HomingLeg::leave);
  CHECK_FALSE(homing.towards_switch());
  CHECK(homing.next(false, false) == HomingVerdict::homed);
}

TEST_CASE("homing legs: a second approach that misses the switch fails", "[core][fault]") {
  Homing homing;
  homing.begin(true);
  CHECK(homing.leg == HomingLeg::back_off);
  REQUIRE(homing.next(false, false) == HomingVerdict::next_leg);
  CHECK(homing.next(false, false) == HomingVerdict::failed);
}
