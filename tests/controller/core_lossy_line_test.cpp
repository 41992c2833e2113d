// A whole job over a line that damages one frame, at every frame there is: the answer is the same.
//
// The host here does what WIRE.md asks of one: it repeats an unanswered request with the same
// number, and takes the end of a motion from the status when the event is lost.
#include <catch2/catch.hpp>
#include <stdexcept>
#include <string>

#include "tests/support/bench.hpp"

using namespace protocol::wire;
using test_support::Bench;

namespace {

class PatientHost {
 public:
  explicit PatientHost(Bench& bench) : bench_(bench) {}

  void greet() {
    Hello hello;
    hello.protocol_version = kProtocolVersion;
    ++bench_.sequence;
    for (int tries = 0; tries < 3; ++tries) {
      bench_.post(hello, bench_.sequence);
      if (bench_.run_until([&] { return !bench_.hellos.empty(); }, kReplyMs)) return;
    }
    throw std::runtime_error("no greeting");
  }

  template <class Message>
  Refusal ask(const Message& message) {
    const uint16_t sequence = ++bench_.sequence;
    const size_t before = bench_.acks.size();
    for (int tries = 0; tries < 3; ++tries) {
      if (tries > 0) ++repeats;
      bench_.post(message, sequence);
      const bool answered = bench_.run_until(
          [&] { return bench_.acks.size() > before && bench_.last_ack_sequence == sequence; },
          kReplyMs);
      if (answered) return bench_.acks.back().refusal;
    }
    throw std::runtime_error("no answer");
  }

  // Asks, and waits for the end by event or by status.
  template <class Message>
  EventKind perform(const Message& message) {
    const Refusal refusal = ask(message);
    if (refusal != Refusal::none) {
      throw std::runtime_error("refused " + std::to_string(static_cast<int>(refusal)));
    }
    const uint16_t sequence = bench_.sequence;
    EventKind end = EventKind::none;
    bench_.run_until([&] {
      for (const auto& reported : bench_.events) {
        if (reported.sequence == sequence) end = reported.event.kind;
      }
      if (end == EventKind::none && !bench_.statuses.empty()) {
        const Status& status = bench_.statuses.back();
        if (status.motion == Motion::idle && status.motion_sequence == sequence) {
          end = status.last_event;
          ++ends_from_status;
        }
      }
      return end != EventKind::none;
    });
    return end;
  }

  int repeats = 0;
  int ends_from_status = 0;

 private:
  static constexpr int64_t kReplyMs = 20;

  Bench& bench_;
};

struct JobResult {
  size_t steps = 0;
  int32_t carriage_steps = 0;
  uint16_t faults = 0;
  int repeats = 0;
  int ends_from_status = 0;
};

Touch touch() {
  Touch request;
  request.direction = 1;
  request.threshold_counts = 2000;
  request.speed_steps_per_s = 800;
  request.acceleration_steps_per_s2 = 40000;
  request.maximum_steps = 3000;
  return request;
}

// Home, up to a touch, a move, a jog, back; returns what it came to.
JobResult run_job(Bench& bench) {
  bench.hal.carriage_steps = 800;
  bench.hal.load_counts = [](int32_t carriage_steps) {
    return carriage_steps > 900 ? 200 * (carriage_steps - 900) : 0;
  };
  bench.run_ms(100);
  PatientHost host(bench);
  host.greet();
  REQUIRE(host.ask(Bench::wide_limits()) == Refusal::none);
  REQUIRE(host.perform(Bench::home()) == EventKind::homed);
  REQUIRE(host.ask(StartSampling{}) == Refusal::none);
  REQUIRE(host.perform(touch()) == EventKind::touched);
  REQUIRE(host.perform(Bench::move_to(1200, 4000, 40000)) == EventKind::motion_done);
  Jog jog;
  jog.steps = -25;
  jog.speed_steps_per_s = 500;
  REQUIRE(host.perform(jog) == EventKind::motion_done);
  REQUIRE(host.perform(Bench::move_to(350, 4000, 40000)) == EventKind::motion_done);
  REQUIRE(host.ask(StopSampling{}) == Refusal::none);
  bench.run_ms(100);
  return {bench.hal.edges.size(), bench.hal.carriage_steps, bench.rig.faults(), host.repeats,
          host.ends_from_status};
}

}  // namespace

TEST_CASE("lossy line: a quiet job needs no repeat", "[core]") {
  Bench bench;
  const JobResult result = run_job(bench);
  CHECK(result.carriage_steps == 350);
  CHECK(result.faults == 0);
  CHECK(result.repeats == 0);
  CHECK(result.ends_from_status == 0);
}

TEST_CASE("lossy line: whichever frame to the rig is damaged, the job ends the same",
          "[core][property][fault]") {
  int repeats = 0;
  int n = 0;
  for (;; ++n) {
    Bench bench;
    bench.damage_to_rig = n;
    CAPTURE(n);
    const JobResult result = run_job(bench);
    REQUIRE(result.carriage_steps == 350);
    REQUIRE(result.faults == 0);
    repeats += result.repeats;
    if (bench.damage_to_rig >= 0) break;  // the job has fewer frames: every one has had its turn
  }
  CHECK(n > 20);
  CHECK(repeats == 8);  // each acknowledged request once; hello and heartbeats are not counted
}

TEST_CASE("lossy line: whichever frame to the host is damaged, nothing moves twice",
          "[core][property][fault]") {
  int repeats = 0;
  int ends_from_status = 0;
  int n = 0;
  for (;; ++n) {
    Bench bench;
    bench.damage_to_host = n;
    CAPTURE(n);
    const JobResult result = run_job(bench);
    REQUIRE(result.carriage_steps == 350);
    REQUIRE(result.faults == 0);
    // The ways of all motions, but for where the touch came to rest: a second jog or move shows.
    REQUIRE(result.steps < 800 + 300 + 300 + 300 + 2 * 950 + 2 * 25);
    repeats += result.repeats;
    ends_from_status += result.ends_from_status;
    if (bench.damage_to_host >= 0) break;
  }
  CHECK(n > 60);
  CHECK(repeats == 8);
  CHECK(ends_from_status == 5);  // home, touch, two moves, jog
}

TEST_CASE("lossy line: a lost sample shows in the numbers of its neighbours", "[core][fault]") {
  Bench bench;
  bench.open_session();
  REQUIRE(bench.ask(StartSampling{}) == Refusal::none);
  bench.run_ms(100);
  const size_t before = bench.samples.size();
  // The next frames are samples, with a status every fourth or so: damage until a sample is hit.
  uint32_t gaps = 0;
  for (int tries = 0; tries < 8 && gaps == 0; ++tries) {
    bench.damage_to_host = 0;
    bench.run_ms(40);
    gaps = 0;
    for (size_t i = before; i < bench.samples.size(); ++i) {
      gaps += bench.samples[i].number - bench.samples[i - 1].number - 1;
    }
  }
  CHECK(gaps == 1);
  bench.run_ms(100);
  CHECK(bench.statuses.back().dropped_samples == 0);  // the rig sent it
}

TEST_CASE("emergency stop: at any tick of a job not one step follows it",
          "[core][property][fault]") {
  for (int64_t at = 1; at < 20000; at += 97) {
    Bench bench;
    bench.hal.carriage_steps = 800;
    bench.open_session();
    bench.post(Bench::home(), ++bench.sequence);
    const int64_t stop_tick = bench.hal.now_ticks + at;
    bool stopped = false;
    size_t edges = 0;
    for (int i = 0; i < 22000; ++i) {
      if (bench.hal.now_ticks == stop_tick) {
        bench.hal.emergency_stop = true;
        stopped = true;
        edges = bench.hal.edges.size();
      }
      bench.tick();
      if (stopped && bench.hal.now_ticks > stop_tick + 200) break;
    }
    CAPTURE(at);
    REQUIRE(stopped);
    REQUIRE(bench.hal.edges.size() == edges);
    REQUIRE_FALSE(bench.hal.driver_enabled);
    REQUIRE((bench.rig.faults() & kFaultEmergencyStop) != 0);
    REQUIRE_FALSE(bench.has(kFlagPositionKnown));
  }
}
