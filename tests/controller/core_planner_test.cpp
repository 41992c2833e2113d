// The step planner: exact landings, bounded acceleration, the time a trapezoid takes.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdint>
#include <vector>

#include "controller/firmware/core/step_planner.hpp"

using namespace controller::firmware;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr uint32_t kTicksPerSecond = 10000;

struct Case {
  uint32_t steps;
  uint32_t speed_steps_per_s;
  uint32_t acceleration_steps_per_s2;
};

std::vector<Case> cases() {
  std::vector<Case> all;
  for (const uint32_t steps : {1u, 2u, 3u, 7u, 100u, 1001u, 6000u}) {
    for (const uint32_t speed : {20u, 333u, 800u, 5000u}) {
      for (const uint32_t acceleration : {100u, 4000u, 50000u}) {
        all.push_back({steps, speed, acceleration});
      }
    }
  }
  return all;
}

// The ticks at which steps came; ends when the planner does, or after `limit` ticks.
std::vector<uint32_t> run(StepPlanner& planner, uint32_t limit = 100u * 1000u * 1000u) {
  std::vector<uint32_t> at;
  for (uint32_t tick = 1; planner.running() && tick <= limit; ++tick) {
    if (planner.tick()) at.push_back(tick);
  }
  return at;
}

std::vector<uint32_t> run_case(const Case& c) {
  StepPlanner planner;
  planner.start(c.steps,
                make_ramp(c.speed_steps_per_s, c.acceleration_steps_per_s2, kTicksPerSecond));
  return run(planner);
}

double seconds(uint32_t ticks) {
  return static_cast<double>(ticks) / kTicksPerSecond;
}

// How long an ideal trapezoid takes from rest to rest.
double ideal_seconds(const Case& c) {
  const double v = c.speed_steps_per_s;
  const double a = c.acceleration_steps_per_s2;
  const double s = c.steps;
  return s * a >= v * v ? s / v + v / a : 2 * std::sqrt(s / a);
}

}  // namespace

TEST_CASE("planner: every move makes exactly its steps", "[core]") {
  for (const Case& c : cases()) {
    CAPTURE(c.steps, c.speed_steps_per_s, c.acceleration_steps_per_s2);
    CHECK(run_case(c).size() == c.steps);
  }
}

TEST_CASE("planner: no step comes faster than the speed allows", "[core]") {
  for (const Case& c : cases()) {
    const auto at = run_case(c);
    const uint32_t least = kTicksPerSecond / c.speed_steps_per_s;  // rounded down: tick jitter
    for (size_t i = 1; i < at.size(); ++i) {
      CAPTURE(c.steps, c.speed_steps_per_s, c.acceleration_steps_per_s2, i);
      REQUIRE(at[i] - at[i - 1] >= least);
    }
  }
}

TEST_CASE("planner: cruising holds the speed to a part in ten thousand", "[core]") {
  for (const uint32_t speed : {20u, 333u, 800u, 1234u, 5000u}) {
    const Case c{6000, speed, 50000};
    const auto at = run_case(c);
    const size_t first = 1000;
    const size_t last = 5000;
    const double measured = static_cast<double>(last - first) / seconds(at[last] - at[first]);
    CAPTURE(speed);
    // Each end of the interval is known to one tick; the speed itself is held far better.
    const double tick_share = 2.0 / (at[last] - at[first]);
    CHECK_THAT(measured, WithinRel(static_cast<double>(speed), 1e-5 + tick_share));
  }
}

TEST_CASE("planner: a move takes the time of its trapezoid", "[core]") {
  for (const Case& c : cases()) {
    if (c.steps < 100) continue;  // there one step's rounding is the whole of it
    const auto at = run_case(c);
    CAPTURE(c.steps, c.speed_steps_per_s, c.acceleration_steps_per_s2);
    // Half a step at creep speed at the end, where the ideal one comes to rest without it.
    const double creep_s = 1.5 / std::sqrt(static_cast<double>(c.acceleration_steps_per_s2));
    CHECK_THAT(seconds(at.back()), WithinAbs(ideal_seconds(c), creep_s + 0.02 * ideal_seconds(c)));
  }
}

TEST_CASE("planner: speed never changes faster than the acceleration", "[core][property]") {
  for (const Case& c : cases()) {
    if (c.steps < 100) continue;
    const auto at = run_case(c);
    const double a = c.acceleration_steps_per_s2;
    // Mean speeds over blocks of steps: a block is long enough that a tick of jitter is small.
    for (const size_t block : {20u, 50u}) {
      std::vector<double> speed;
      std::vector<double> middle;
      for (size_t i = 0; i + block < at.size(); i += block) {
        const double from = seconds(at[i]);
        const double to = seconds(at[i + block]);
        speed.push_back(static_cast<double>(block) / (to - from));
        middle.push_back((from + to) / 2);
      }
      for (size_t i = 1; i < speed.size(); ++i) {
        const double dt = middle[i] - middle[i - 1];
        const double jitter = 2 * speed[i] * speed[i] / static_cast<double>(block) * seconds(1);
        CAPTURE(c.steps, c.speed_steps_per_s, a, block, i);
        REQUIRE(std::abs(speed[i] - speed[i - 1]) <= 1.05 * a * dt + jitter);
      }
    }
  }
}

TEST_CASE("planner: speeding up and slowing down mirror each other", "[core]") {
  const Case c{2000, 1500, 4000};
  const auto at = run_case(c);
  for (const size_t step : {size_t{5}, size_t{50}, size_t{150}, size_t{250}}) {
    const double up = seconds(at[step] - at[0]);
    const double down = seconds(at.back() - at[at.size() - 1 - step]);
    CAPTURE(step);
    CHECK_THAT(down, WithinAbs(up, 1.5 / std::sqrt(4000.0)));  // the creep of the last step
  }
}

TEST_CASE("planner: the last step is as slow as the first", "[core]") {
  for (const uint32_t acceleration : {400u, 1000u, 4000u, 10000u}) {
    for (const uint32_t steps : {200u, 201u, 2000u}) {
      const auto at = run_case({steps, 1500, acceleration});
      const double first_s = seconds(at[1] - at[0]);
      const double last_s = seconds(at.back() - at[at.size() - 2]);
      CAPTURE(acceleration, steps, first_s, last_s);
      // Braking begun a step too late would arrive at sqrt(3) times the speed.
      CHECK(last_s >= 0.9 * first_s);
    }
  }
}

TEST_CASE("planner: the first step comes after half a step's way from rest", "[core]") {
  const Case c{100, 5000, 4000};
  // s = a t^2 / 2 with s = 1/2.
  CHECK_THAT(seconds(run_case(c).front()), WithinAbs(1 / std::sqrt(4000.0), 3e-4));
}

TEST_CASE("planner: decelerating at any time stops within the braking distance",
          "[core][property]") {
  const Case c{6000, 2000, 4000};
  const Ramp ramp = make_ramp(c.speed_steps_per_s, c.acceleration_steps_per_s2, kTicksPerSecond);
  for (uint32_t stop_at = 1; stop_at < 40000; stop_at += 371) {
    StepPlanner planner;
    planner.start(c.steps, ramp);
    const auto before = run(planner, stop_at);
    const double t = seconds(stop_at);
    const double speed = std::min(4000.0 * t, 2000.0);
    planner.decelerate();
    const auto after = run(planner);
    CAPTURE(stop_at, speed, before.size());
    REQUIRE_FALSE(planner.running());
    REQUIRE(static_cast<double>(after.size()) <= speed * speed / (2 * 4000.0) + 1.5);
    REQUIRE(before.size() + after.size() <= c.steps);
  }
}

TEST_CASE("planner: decelerating while slowing down already changes nothing", "[core]") {
  const Case c{2000, 1500, 4000};
  const auto undisturbed = run_case(c);
  StepPlanner planner;
  planner.start(c.steps,
                make_ramp(c.speed_steps_per_s, c.acceleration_steps_per_s2, kTicksPerSecond));
  const uint32_t late = undisturbed.back() - 100;
  auto at = run(planner, late);
  planner.decelerate();
  for (const uint32_t tick : run(planner)) at.push_back(late + tick);
  CHECK(at == undisturbed);
}

TEST_CASE("planner: halting makes not one step more", "[core]") {
  StepPlanner planner;
  planner.start(1000, make_ramp(5000, 50000, kTicksPerSecond));
  run(planner, 2000);
  REQUIRE(planner.running());
  planner.halt();
  CHECK_FALSE(planner.running());
  for (int i = 0; i < 100000; ++i) REQUIRE_FALSE(planner.tick());
}

TEST_CASE("planner: before its first step a move stops on the spot", "[core]") {
  StepPlanner planner;
  planner.start(1000, make_ramp(100, 100, kTicksPerSecond));
  REQUIRE(run(planner, 10).empty());
  planner.decelerate();
  CHECK_FALSE(planner.running());
}

TEST_CASE("planner: no steps is no motion", "[core]") {
  StepPlanner planner;
  planner.start(0, make_ramp(100, 100, kTicksPerSecond));
  CHECK_FALSE(planner.running());
  CHECK_FALSE(planner.tick());
}

TEST_CASE("planner: a new move forgets the one before", "[core]") {
  StepPlanner planner;
  const Ramp ramp = make_ramp(2000, 10000, kTicksPerSecond);
  planner.start(500, ramp);
  run(planner, 1500);
  planner.start(300, ramp);
  CHECK(run(planner).size() == 300);
  planner.start(300, ramp);
  CHECK(run(planner) == run_case({300, 2000, 10000}));
}

TEST_CASE("planner: the slowest move arrives", "[core]") {
  const auto at = run_case({3, 1, 1});
  REQUIRE(at.size() == 3);
  CHECK(seconds(at.back()) < 8);
}

TEST_CASE("planner: at half a step per tick every second tick steps", "[core]") {
  const auto at = run_case({4000, kTicksPerSecond / 2, 50000});
  for (size_t i = 1500; i < 2500; ++i) REQUIRE(at[i] - at[i - 1] == 2);
}

TEST_CASE("planner: ramps carry speed and acceleration in phase per tick", "[core]") {
  const Ramp ramp = make_ramp(800, 4000, kTicksPerSecond);
  CHECK_THAT(ramp.cruise_q32, WithinRel(800.0 / 1e4 * 4294967296.0, 1e-5));
  CHECK_THAT(ramp.acceleration_q32, WithinRel(4000.0 / 1e8 * 4294967296.0, 1e-5));
  // After half a step from rest v^2 = a, in steps and ticks.
  CHECK_THAT(ramp.creep_q32, WithinRel(std::sqrt(4000.0 / 1e8) * 4294967296.0, 1e-2));
  CHECK(make_ramp(1, 50000, kTicksPerSecond).creep_q32 ==
        make_ramp(1, 50000, kTicksPerSecond).cruise_q32);
}

TEST_CASE("planner: the integer root is the floor of the root", "[core]") {
  for (uint32_t n = 0; n < 70000; ++n) {
    const uint32_t root = integer_sqrt(n);
    REQUIRE(root * root <= n);
    REQUIRE((root + 1) * (root + 1) > n);
  }
  CHECK(integer_sqrt(0xFFFFFFFFu) == 65535u);
  CHECK(integer_sqrt(0xFFFE0001u) == 65535u);
  CHECK(integer_sqrt(0xFFFE0000u) == 65534u);
}
