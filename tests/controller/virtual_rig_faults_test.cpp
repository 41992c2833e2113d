// Each fault on request, as it is seen at the wire.
#include "controller/virtual_rig/faults.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "tests/controller/virtual_rig_client.hpp"

using namespace controller::virtual_rig;
using namespace protocol::wire;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

// A rig that is homed, and in the middle of a long move when the fault comes.
struct Moving {
  explicit Moving(const Fault& fault)
      : rig(shipped_fork("larch_160"), pumped_options()), client(rig) {
    client.open();
    ENSURE(client.home().has_value());
    client.events.clear();
    ENSURE(client.ask(Move{20000, 1600, 20000}) == Refusal::none);
    client.run_ms(1000);
    ENSURE(client.events.empty());
    rig.inject(fault);
  }
  // Runs on for a while. RETURNS the faults that an event told of.
  uint16_t faults_after(int duration_ms) {
    client.run_ms(duration_ms);
    return client.faults();
  }

  VirtualRig rig;
  RigClient client;
};

Fault of(FaultKind kind, double amount = 0.0) {
  return Fault{kind, amount, {}, {}};
}

}  // namespace

TEST_CASE("faults: the emergency stop stops at once and cuts the driver", "[virtual_rig][fault]") {
  Moving moving(of(FaultKind::emergency_stop));
  const double where_m = moving.rig.carriage_m();
  CHECK(moving.faults_after(200) == kFaultEmergencyStop);
  CHECK(moving.client.events.back().kind == EventKind::fault);
  // Because not one more step may come, and one is 2.5 um.
  CHECK_THAT(moving.rig.carriage_m(), WithinAbs(where_m, 2.6e-6));
  CHECK((moving.client.samples.back().flags & kFlagDriverEnabled) == 0);
  CHECK((moving.client.samples.back().flags & kFlagInputEmergencyStop) != 0);
  CHECK((moving.client.samples.back().flags & kFlagPositionKnown) == 0);
}

TEST_CASE("faults: a stuck limit switch ahead stops the move, one behind does not",
          "[virtual_rig][fault]") {
  CHECK(Moving(of(FaultKind::stuck_high_switch)).faults_after(200) == kFaultLimitHigh);
  CHECK(Moving(of(FaultKind::stuck_low_switch)).faults_after(200) == 0);
}

TEST_CASE("faults: a load cell that sticks, saturates or falls silent stops the move",
          "[virtual_rig][fault]") {
  Moving stuck(of(FaultKind::stuck_load_cell));
  CHECK(stuck.faults_after(1000) == kFaultLoadCellFrozen);
  Moving saturated(of(FaultKind::saturated_load_cell));
  CHECK((saturated.faults_after(200) & kFaultLoadCellSaturated) != 0);
  CHECK(saturated.client.samples.back().load_counts == kCountsMax);
  Moving silent(of(FaultKind::silent_load_cell));
  CHECK(silent.faults_after(300) == kFaultLoadCellMissing);
}

TEST_CASE("faults: lost steps part the count from the carriage", "[virtual_rig][fault]") {
  Moving moving(of(FaultKind::lost_steps, 100.0));
  moving.client.run_ms(15000);
  REQUIRE(moving.client.events.back().kind == EventKind::motion_done);
  CHECK(moving.client.events.back().position_steps == 20000);
  const double counted_m = -0.012 + 20000 / 400.04e3;
  // Because the switch is found to within a step or two.
  CHECK_THAT(counted_m - moving.rig.carriage_m(), WithinAbs(100 / 400.04e3, 6e-6));
}

TEST_CASE("faults: garbage is counted and passed over", "[virtual_rig][fault]") {
  Moving moving(of(FaultKind::garbage_bytes, 30.0));
  CHECK(moving.client.counters().resync_bytes == 0);
  CHECK(moving.faults_after(500) == 0);
  CHECK(moving.client.counters().resync_bytes >= 20);
  const uint32_t told =
      moving.client.samples.back().number - moving.client.samples.front().number + 1;
  // Because at worst the frame behind the garbage goes with it.
  CHECK(told - moving.client.samples.size() <= 1);
}

TEST_CASE("faults: lost bytes show as a gap in the sample numbers", "[virtual_rig][fault]") {
  Moving moving(of(FaultKind::lost_bytes, 200.0));
  moving.client.run_ms(1000);
  const uint32_t told =
      moving.client.samples.back().number - moving.client.samples.front().number + 1;
  const auto lost = told - moving.client.samples.size();
  // Because a sample is 24 bytes on the line, with a status of 42 among every four.
  CHECK(lost >= 4);
  CHECK(lost <= 8);
  CHECK(moving.client.counters().bad_crc + moving.client.counters().bad_length >= 1);
}

TEST_CASE("faults: a brown-out resets the chip; it says so and knows nothing",
          "[virtual_rig][fault]") {
  Moving moving(of(FaultKind::brown_out));
  const size_t samples = moving.client.samples.size();
  const double where_m = moving.rig.carriage_m();
  moving.client.run_ms(500);
  REQUIRE(moving.client.events.size() == 1);
  CHECK(moving.client.events.back().kind == EventKind::started);
  CHECK(moving.client.samples.size() == samples);
  CHECK(moving.rig.carriage_m() == where_m);
  CHECK_FALSE(moving.rig.in_session());
  CHECK(moving.client.ask(Move{0, 1600, 20000}) == Refusal::no_session);
}

TEST_CASE("faults: without its cable the rig stops by itself", "[virtual_rig][fault]") {
  Moving moving(of(FaultKind::unplug));
  const size_t bytes = moving.client.bytes.size();
  moving.client.run_ms(2000);
  CHECK(moving.client.bytes.size() == bytes);
  CHECK(moving.rig.rig().faults() == kFaultHostLost);
  const double where_m = moving.rig.carriage_m();
  moving.client.run_ms(500);
  CHECK(moving.rig.carriage_m() == where_m);
}

TEST_CASE("faults: a slow leak softens the fork", "[virtual_rig][fault]") {
  VirtualRig rig(shipped_fork("larch_160"), pumped_options());
  RigClient client(rig);
  client.run_ms(1000);
  const double before_Pa = rig.plant().positive().pressure_Pa();
  rig.inject(of(FaultKind::slow_leak, 1e-3));
  client.run_ms(20000);
  CHECK(rig.plant().positive().pressure_Pa() < 0.99 * before_Pa);
}

TEST_CASE("faults: come at their time or place, once", "[virtual_rig][fault]") {
  VirtualRigOptions options = pumped_options();
  const auto faults = parse_faults("stuck_high_switch@20 mm");
  REQUIRE(faults);
  options.faults = *faults;
  VirtualRig rig(shipped_fork("larch_160"), options);
  RigClient client(rig);
  client.open();
  REQUIRE(client.home());
  CHECK(client.faults() == 0);
  REQUIRE(client.move(20000)->kind == EventKind::fault);
  CHECK(client.faults() == kFaultLimitHigh);
  CHECK_THAT(rig.carriage_m(), WithinAbs(0.020, 1e-5));
}

TEST_CASE("faults: are read from a text", "[virtual_rig][fault]") {
  const auto faults = parse_faults("emergency_stop@30 s,lost_steps=40@80 mm,slow_leak=1e-4@0 s");
  REQUIRE(faults);
  REQUIRE(faults->size() == 3);
  CHECK((*faults)[0].kind == FaultKind::emergency_stop);
  CHECK((*faults)[0].at_time_s == 30.0);
  CHECK_FALSE((*faults)[0].at_carriage_m);
  CHECK((*faults)[1].kind == FaultKind::lost_steps);
  CHECK((*faults)[1].amount == 40.0);
  CHECK((*faults)[1].at_carriage_m == 0.08);
  CHECK((*faults)[2].amount == 1e-4);
  CHECK(parse_faults("")->empty());
}

TEST_CASE("faults: a text that is none is refused", "[virtual_rig][fault]") {
  struct Row {
    const char *text, *says;
  };
  const auto row = GENERATE(values<Row>({{"unplug", "does not say when"},
                                         {"fire@3 s", "known are unplug"},
                                         {"unplug@3", "neither a time nor a length"},
                                         {"unplug@3 psi", "neither a time nor a length"},
                                         {"lost_steps=many@3 s", "amount is not a number"},
                                         {"lost_steps=-4@3 s", "amount is not a number"}}));
  CAPTURE(row.text);
  const auto faults = parse_faults(row.text);
  REQUIRE_FALSE(faults);
  CHECK(faults.error().code == protocol::Errc::usage);
  CHECK_THAT(faults.error().message, Contains(row.says));
}
