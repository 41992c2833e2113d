// A rig in the middle of a move, and what must hold once a fault has ended it.
#pragma once

#include <catch2/catch.hpp>
#include <stdexcept>

#include "tests/support/bench.hpp"

namespace test_support {

using wire::ClearFaults;
using wire::Event;
using wire::EventKind;
using wire::Jog;
using wire::Refusal;

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
inline void check_latched(Bench& bench, uint16_t fault, uint16_t motion_sequence) {
  const Event event = bench.wait_for_event(motion_sequence);
  CHECK(event.kind == EventKind::fault);
  CHECK(event.faults == fault);
  CHECK(bench.rig.faults() == fault);
  CHECK(bench.idle());
  CHECK(bench.has(wire::kFlagFaulted));
  CHECK_FALSE(bench.has(wire::kFlagPositionKnown));
  const size_t edges = bench.hal.edges.size();
  CHECK(bench.ask(Bench::move_to(400)) == Refusal::faulted);
  CHECK(bench.ask(Bench::home()) == Refusal::faulted);
  bench.run_ms(200);
  CHECK(bench.hal.edges.size() == edges);
  CHECK(bench.rig.faults() == fault);  // it does not go away by itself
}

inline void check_cleared(Bench& bench) {
  CHECK(bench.ask(ClearFaults{}) == Refusal::none);
  CHECK(bench.rig.faults() == 0);
  CHECK(bench.ask(Bench::move_to(400)) == Refusal::not_homed);
  CHECK(bench.perform(Bench::home()).kind == EventKind::homed);
  CHECK(bench.perform(Bench::move_to(400)).kind == EventKind::motion_done);
}

inline Jog jog(int32_t steps) {
  Jog request;
  request.steps = steps;
  request.speed_steps_per_s = 200;
  return request;
}

}  // namespace test_support
