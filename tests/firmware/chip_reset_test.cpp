// The chip starts anew in the middle of a motion: by its supply, or by its watchdog because the
// main loop never came back.
#include <catch2/catch.hpp>

#include "tests/controller/virtual_rig_client.hpp"
#include "tests/firmware/latency_trials.hpp"
#include "tests/firmware/simulated_rig.hpp"

using namespace tests;
namespace wire = protocol::wire;
using controller::virtual_rig::BasicRigClient;

namespace {

struct MovingChip {
  MovingChip() {
    client.run_ms(20);  // until it listens
    client.open();
    REQUIRE(client.home());
    client.send(wire::Move{20000, 4000, 20000});
    client.run_ms(1000);
    steps_before = rig.carriage_steps();
    client.run_ms(5);
    REQUIRE(rig.carriage_steps() > steps_before);
  }

  // What it says of itself from here on begins with this.
  void check_started_anew(size_t events_before) {
    REQUIRE(client.events.size() > events_before);
    CHECK(client.events[events_before].kind == wire::EventKind::started);
    CHECK_FALSE(rig.driver_on());
    const int64_t rest = rig.carriage_steps();
    client.run_ms(500);
    CHECK(rig.carriage_steps() == rest);
    // It has forgotten session and position: nothing but homing moves it.
    client.hello.reset();
    client.open();
    REQUIRE(client.hello);
    client.run_ms(50);
    CHECK((client.statuses.back().flags & wire::kFlagPositionKnown) == 0);
    CHECK_FALSE(client.move(100));
  }

  SimulatedRig rig{SPRINGWRIGHT_CHIP_ELF, controller::virtual_rig::shipped_fork("larch_160"),
                   controller::virtual_rig::pumped_options()};
  BasicRigClient<SimulatedRig> client{rig};
  int64_t steps_before = 0;
};

}  // namespace

TEST_CASE("chip: a dip of its supply stops the steps at once, and it says that it restarted",
          "[firmware]") {
  MovingChip bench;
  const size_t events_before = bench.client.events.size();
  const uint64_t dip_cycle = bench.rig.chip().cycle();
  bench.rig.inject({controller::virtual_rig::FaultKind::brown_out, 0.0, {}, {}});
  bench.client.run_ms(50);
  CHECK(bench.rig.chip().resets() == 1);
  CHECK(bench.rig.steps_after(dip_cycle) == 0);
  bench.check_started_anew(events_before);
}

TEST_CASE("chip: a main loop that hangs loses its steps within 12 ms and its watchdog resets it",
          "[firmware]") {
  MovingChip bench;
  const size_t events_before = bench.client.events.size();
  bench.rig.chip().hang_main_loop();
  const uint64_t hang_cycle = bench.rig.chip().cycle();
  bench.client.run_ms(60);
  CHECK(bench.rig.chip().resets() == 0);
  CHECK(bench.rig.last_step_cycle() > hang_cycle);
  CHECK(bench.rig.last_step_cycle() - hang_cycle < 12 * kCyclesPerMs);
  // The watchdog is set to about an eighth of a second.
  bench.client.run_ms(140);
  CHECK(bench.rig.chip().resets() == 1);
  bench.check_started_anew(events_before);
}
