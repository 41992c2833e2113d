// Touching: moving until the load cell feels something, and not a sample longer.
#include <catch2/catch.hpp>

#include "tests/support/bench.hpp"

using namespace protocol::wire;
using test_support::Bench;

namespace {

constexpr int32_t kBaselineCounts = -8100;
constexpr int32_t kContactSteps = 2000;
constexpr int32_t kCountsPerStep = 50;

// A bench with a spring that is first met at kContactSteps.
struct SpringBench : Bench {
  SpringBench() {
    hal.load_counts = [](int32_t carriage_steps) {
      const int32_t pressed = carriage_steps > kContactSteps ? carriage_steps - kContactSteps : 0;
      return kBaselineCounts + kCountsPerStep * pressed;
    };
    open_and_home();
  }

  static Touch touch(int8_t direction = 1, int32_t threshold_counts = 1000) {
    Touch touch;
    touch.direction = direction;
    touch.baseline_counts = kBaselineCounts;
    touch.threshold_counts = threshold_counts;
    touch.speed_steps_per_s = 400;
    touch.acceleration_steps_per_s2 = 20000;
    touch.maximum_steps = 5000;
    return touch;
  }
};

}  // namespace

TEST_CASE("touch: ends at the first sample beyond the threshold", "[core]") {
  SpringBench bench;
  const Event event = bench.perform(SpringBench::touch());
  CHECK(event.kind == EventKind::touched);
  // The threshold lies 20 steps past contact; a sample period is 5 steps at this speed, and the
  // noise of 2 counts is less than a step.
  CHECK(event.position_steps >= kContactSteps + 20);
  CHECK(event.position_steps <= kContactSteps + 20 + 6);
  CHECK(bench.rig.faults() == 0);
  CHECK(bench.has(kFlagPositionKnown));
}

TEST_CASE("touch: reports where the sample was taken and rests a braking distance on", "[core]") {
  SpringBench bench;
  const Event event = bench.perform(SpringBench::touch());
  const int32_t overrun = bench.rig.position_steps() - event.position_steps;
  CHECK(overrun >= 0);
  CHECK(overrun <= 6);  // v^2 / (2 a) = 4 steps, and one that was due
  CHECK(bench.rig.position_steps() == bench.hal.carriage_steps);
  CHECK(event.time_us < bench.rig.time_us());
}

TEST_CASE("touch: a negative threshold is met from above, by pulling", "[core]") {
  SpringBench bench;
  bench.hal.load_counts = [](int32_t carriage_steps) {  // pulls below 1500
    return kBaselineCounts + (carriage_steps < 1500 ? 50 * (carriage_steps - 1500) : 0);
  };
  bench.perform(Bench::move_to(1900));
  const Event event = bench.perform(SpringBench::touch(-1, -1000));
  CHECK(event.kind == EventKind::touched);
  CHECK(event.position_steps <= 1480);
  CHECK(event.position_steps >= 1474);
}

TEST_CASE("touch: the threshold's side matters", "[core]") {
  SpringBench bench;
  Touch touch = SpringBench::touch(1, -1000);  // the spring pushes, it never pulls
  touch.maximum_steps = 2500;
  const Event event = bench.perform(touch);
  CHECK(event.kind == EventKind::touch_missed);
  CHECK(event.position_steps == 2800);
}

TEST_CASE("touch: ends at its longest way when nothing is there", "[core]") {
  SpringBench bench;
  Touch touch = SpringBench::touch();
  touch.maximum_steps = 1000;
  const Event event = bench.perform(touch);
  CHECK(event.kind == EventKind::touch_missed);
  CHECK(event.position_steps == 1300);
  CHECK(bench.hal.carriage_steps == 1300);
  CHECK(bench.rig.faults() == 0);
}

TEST_CASE("touch: ends at the travel limit when that comes first", "[core]") {
  SpringBench bench;
  SetLimits limits = Bench::wide_limits();
  limits.travel_high_steps = 900;
  REQUIRE(bench.ask(limits) == Refusal::none);
  const Event event = bench.perform(SpringBench::touch());
  CHECK(event.kind == EventKind::touch_missed);
  CHECK(event.position_steps == 900);
  CHECK(bench.rig.faults() == 0);
  CHECK(bench.ask(SpringBench::touch()) == Refusal::outside_travel);
  CHECK(bench.ask(SpringBench::touch(-1)) == Refusal::none);
}

TEST_CASE("touch: something felt already ends it within a sample", "[core]") {
  SpringBench bench;
  bench.perform(Bench::move_to(kContactSteps + 100));
  const Event event = bench.perform(SpringBench::touch());
  CHECK(event.kind == EventKind::touched);
  CHECK(bench.hal.carriage_steps <= kContactSteps + 100 + 10);
}

TEST_CASE("touch: stop ends it as stopped", "[core]") {
  SpringBench bench;
  REQUIRE(bench.ask(SpringBench::touch()) == Refusal::none);
  const uint16_t touching = bench.sequence;
  bench.run_ms(500);
  CHECK(bench.rig.motion() == Motion::touching);
  REQUIRE(bench.ask(Stop{}) == Refusal::none);
  CHECK(bench.wait_for_event(touching).kind == EventKind::stopped);
  CHECK(bench.has(kFlagPositionKnown));
}

TEST_CASE("touch: the force limit still holds", "[core][fault]") {
  SpringBench bench;
  SetLimits limits = Bench::wide_limits();
  limits.force_high_counts = 2000;  // below the threshold
  REQUIRE(bench.ask(limits) == Refusal::none);
  const Event event = bench.perform(SpringBench::touch(1, 100000));
  CHECK(event.kind == EventKind::fault);
  CHECK(event.faults == kFaultForce);
}

TEST_CASE("touch: the next one starts afresh", "[core]") {
  SpringBench bench;
  CHECK(bench.perform(SpringBench::touch()).kind == EventKind::touched);
  CHECK(bench.perform(Bench::move_to(500)).kind == EventKind::motion_done);
  Touch touch = SpringBench::touch();
  touch.maximum_steps = 100;
  CHECK(bench.perform(touch).kind == EventKind::touch_missed);
  CHECK(bench.perform(SpringBench::touch()).kind == EventKind::touched);
}

TEST_CASE("touch: refuses what makes no sense", "[core][fault]") {
  SpringBench bench;
  Touch touch = SpringBench::touch();
  SECTION("no direction") {
    touch.direction = 0;
  }
  SECTION("a direction of two") {
    touch.direction = 2;
  }
  SECTION("no threshold") {
    touch.threshold_counts = 0;
  }
  SECTION("a threshold beyond the converter") {
    touch.threshold_counts = kCountsMax + 1;
  }
  SECTION("a baseline beyond the converter") {
    touch.baseline_counts = kCountsMin - 1;
  }
  SECTION("a baseline far beyond") {
    touch.baseline_counts = INT32_MAX;
  }
  SECTION("no speed") {
    touch.speed_steps_per_s = 0;
  }
  SECTION("too fast") {
    touch.speed_steps_per_s = 5001;
  }
  SECTION("no acceleration") {
    touch.acceleration_steps_per_s2 = 0;
  }
  SECTION("no way") {
    touch.maximum_steps = 0;
  }
  SECTION("an endless way") {
    touch.maximum_steps = 0xFFFFFFFFu;
  }
  const size_t before = bench.hal.edges.size();
  CHECK(bench.ask(touch) == Refusal::out_of_range);
  bench.run_ms(50);
  CHECK(bench.hal.edges.size() == before);
}

TEST_CASE("touch: is refused while the force is over its limit", "[core][fault]") {
  SpringBench bench;
  SetLimits limits = Bench::wide_limits();
  limits.force_high_counts = kBaselineCounts - 1000;
  limits.force_low_counts = kBaselineCounts - 9000;
  REQUIRE(bench.ask(limits) == Refusal::none);
  bench.run_ms(20);
  CHECK(bench.has(kFlagForceOverLimit));
  CHECK(bench.ask(SpringBench::touch()) == Refusal::force_over_limit);
  CHECK(bench.ask(Bench::move_to(500)) == Refusal::force_over_limit);
  CHECK(bench.rig.faults() == 0);  // nothing moved
}
