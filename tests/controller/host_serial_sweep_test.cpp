// The whole way: the virtual rig on its pseudo-terminal, the real serial link, a sweep, a record.
#include <catch2/catch.hpp>

#include "controller/host/serial_link.hpp"
#include "controller/virtual_rig/serve.hpp"
#include "protocol/record/record_reader.hpp"
#include "tests/support/host_bench.hpp"

namespace {

using namespace test_support;
using Catch::Matchers::Contains;
using protocol::Errc;

std::unique_ptr<virtual_rig::ServedRig> serve_rig(
    const std::vector<virtual_rig::Fault>& faults = {},
    virtual_rig::Pace pace = virtual_rig::Pace::accelerated) {
  virtual_rig::ServeOptions options;
  options.pace = pace;
  options.rig.carriage_start_m = -0.0115;
  options.rig.setting = setting_of(81, 1);
  options.rig.faults = faults;
  auto served = virtual_rig::serve(plant_path("larch_160"), options);
  REQUIRE(served);
  return std::move(served).value();
}

std::unique_ptr<host::SerialLink> open_link(const std::string& path) {
  auto link = host::SerialLink::open(path);
  if (!link) UNSCOPED_INFO(link.error().message);
  REQUIRE(link);
  return std::move(link).value();
}

TEST_CASE("serial sweep: a sweep over a real port leaves a complete record",
          "[host][sweep][serial]") {
  TemporaryFolder folder;
  const auto served = serve_rig();
  const auto link = open_link(served->path());
  HostSide side(*link, host::HeartbeatPolicy::accelerated());
  protocol::DiskFileSystem files;
  const host::SweepPlan plan = short_plan(folder / "a.csv", setting_of(81, 1));
  const auto outcome = side.sweep(plan, files);
  if (!outcome) UNSCOPED_INFO(outcome.error().message);
  REQUIRE(outcome);
  CHECK_FALSE(outcome->afterwards);
  CHECK(outcome->lost_samples == 0);
  const auto record = protocol::load_record(plan.path);
  REQUIRE(record);
  CHECK(record->metadata.state == protocol::RecordState::complete);
  CHECK(record->stroke.back() == 3);
  CHECK(record->metadata.zero_after_counts);
  // Between two strokes the rig's time goes on for no longer than the heartbeat allows.
  for (size_t i = 1; i < record->size(); ++i) {
    CHECK(record->time_s[i] - record->time_s[i - 1] < 0.020);
  }
}

TEST_CASE("serial sweep: a cable pulled in mid-stroke is told at once and the rows are kept",
          "[host][sweep][serial][fault]") {
  TemporaryFolder folder;
  virtual_rig::Fault fault;
  fault.kind = virtual_rig::FaultKind::unplug;
  fault.at_carriage_m = 0.020;
  const auto served = serve_rig({fault});
  const auto link = open_link(served->path());
  HostSide side(*link, host::HeartbeatPolicy::accelerated());
  protocol::DiskFileSystem files;
  const host::SweepPlan plan = short_plan(folder / "a.csv", setting_of(81, 1));
  const auto outcome = side.sweep(plan, files);
  REQUIRE_FALSE(outcome);
  CHECK(outcome.error().code == Errc::link_lost);
  CHECK_THAT(outcome.error().message,
             Contains("conditioning, cycle 1 of 1: ") && Contains("marked interrupted"));
  const auto record = protocol::load_record(plan.path);
  REQUIRE(record);
  CHECK(record->metadata.state == protocol::RecordState::interrupted);
  CHECK_THAT(record->metadata.state_reason, Contains("gone"));
  REQUIRE(record->size() > 50);
  CHECK(record->travel_m.back() > 0.015);
}

TEST_CASE("serial sweep: the port is free again afterwards, and a new session must home",
          "[host][sweep][serial]") {
  const auto served = serve_rig();
  for (int i = 0; i < 2; ++i) {
    const auto link = open_link(served->path());
    HostSide side(*link, host::HeartbeatPolicy::accelerated());
    const auto opened = side.session.open();
    if (!opened) UNSCOPED_INFO(opened.error().message);
    REQUIRE(opened);
    REQUIRE(side.press.prepare());
    REQUIRE(side.press.set_limits({}));
    const auto moved = side.press.move_to(4000, 0.004);
    REQUIRE_FALSE(moved);
    CHECK(moved.error().code == Errc::not_homed);
    const auto homed = side.press.home();
    if (!homed) UNSCOPED_INFO(homed.error().message);
    CHECK(homed);
  }
}

TEST_CASE("serial sweep: in real time, with the heartbeat of a real rig", "[host][serial]") {
  const auto served = serve_rig({}, virtual_rig::Pace::real_time);
  const auto link = open_link(served->path());
  HostSide side(*link);
  const host::HostTime before = link->now();
  REQUIRE(side.session.open());
  REQUIRE(side.press.prepare());
  REQUIRE(side.press.set_limits({}));
  const auto homed = side.press.home();
  if (!homed) UNSCOPED_INFO(homed.error().message);
  REQUIRE(homed);
  CHECK(*homed == 800);
  CHECK(side.session.faults() == 0);
  CHECK(side.session.counters().lost_samples == 0);
  // The rig's clock and this computer's agree on how long it took.
  const double host_s = std::chrono::duration<double>(link->now() - before).count();
  const double rig_s = static_cast<double>(side.session.device_time_us()) / 1e6;
  CHECK(rig_s < host_s + 0.5);
  CHECK(rig_s > 0.5 * host_s);
}

}  // namespace
