// The real binary as a rig: it answers, homes, moves by as many steps as it says, and fits.
#include <catch2/catch.hpp>

#include "tests/controller/virtual_rig_client.hpp"
#include "tests/firmware/latency_trials.hpp"
#include "tests/firmware/simulated_rig.hpp"

using namespace tests;
namespace wire = protocol::wire;
using controller::virtual_rig::BasicRigClient;

namespace {

struct Bench {
  SimulatedRig rig{SPRINGWRIGHT_CHIP_ELF, controller::virtual_rig::shipped_fork("larch_160"),
                   controller::virtual_rig::pumped_options()};
  BasicRigClient<SimulatedRig> client{rig};
  Bench() { client.run_ms(20); }
};

constexpr int kRam_bytes = 2048;

}  // namespace

TEST_CASE("chip: it starts with the driver off and says who it is", "[firmware]") {
  Bench bench;
  CHECK_FALSE(bench.rig.driver_on());
  REQUIRE(bench.client.events.size() == 1);
  CHECK(bench.client.events[0].kind == wire::EventKind::started);
  bench.client.open();
  REQUIRE(bench.client.hello);
  CHECK(bench.client.hello->protocol_version == wire::kProtocolVersion);
  CHECK(std::string(reinterpret_cast<const char*>(bench.client.hello->rig_id)) == "RIG-NEW");
  CHECK(bench.client.counters().bad_crc == 0);
}

TEST_CASE("chip: homes, and every step that it counts is an edge on its pin", "[firmware]") {
  Bench bench;
  bench.client.open();
  const auto homed = bench.client.home();
  REQUIRE(homed);
  REQUIRE(homed->kind == wire::EventKind::homed);
  const int64_t zero = bench.rig.carriage_steps() - homed->position_steps;
  for (const int32_t to : {1500, 200, 2300}) {
    const auto done = bench.client.move(to);
    REQUIRE(done);
    REQUIRE(done->kind == wire::EventKind::motion_done);
    CHECK(done->position_steps == to);
    CHECK(bench.rig.carriage_steps() - zero == to);
  }
  // Conversions come 80 times a second, and none is lost.
  const size_t before = bench.client.samples.size();
  bench.client.run_ms(1000);
  const size_t came = bench.client.samples.size() - before;
  CHECK(came >= 79);
  CHECK(came <= 81);
  CHECK(bench.client.samples.back().number + 1 >= bench.client.samples.size());
  CHECK(bench.client.statuses.back().dropped_samples == 0);
}

TEST_CASE("chip: the same run twice is the same to the byte and the cycle", "[firmware]") {
  const auto run = [] {
    Bench bench;
    bench.client.open();
    bench.client.home();
    bench.client.move(700);
    return std::pair(bench.client.bytes, bench.rig.last_step_cycle());
  };
  CHECK(run() == run());
}

TEST_CASE("chip: variables and stack leave room in its memory", "[firmware]") {
  const MemoryUsed memory = memory_used();
  CAPTURE(memory.static_bytes, memory.stack_bytes);
  CHECK(memory.stack_bytes > 30);
  // A quarter left over: interrupts may nest deeper than they happened to here.
  CHECK(memory.static_bytes + memory.stack_bytes < kRam_bytes * 3 / 4);
}
