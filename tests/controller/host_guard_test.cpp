// The host's own watch, without a rig: each reason to stop, and none without a reason.
#include "controller/host/host_guard.hpp"

#include <catch2/catch.hpp>

#include "controller/host/progress.hpp"
#include "protocol/wire/codes.hpp"

namespace {

using namespace controller::host;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using protocol::Errc;
namespace wire = protocol::wire;

Instruments plain_instruments() {
  protocol::Bench bench;
  return make_instruments(bench, nullptr, nullptr, nullptr);
}

struct Watch {
  protocol::Result<void> see(double force_N, double carriage_m, uint16_t flags) {
    TimedSample sample;
    sample.number = ++number;
    sample.time_us = number * 12500;
    sample.load_counts = *instruments.counts_at(force_N) + static_cast<int32_t>(number % 2);
    sample.position_steps = *instruments.steps_at(carriage_m);
    sample.flags = flags;
    return guard.check(sample, instruments);
  }
  protocol::Result<void> see(double force_N, double carriage_m = 0.05) {
    return see(force_N, carriage_m, wire::kFlagPositionKnown);
  }

  Instruments instruments = plain_instruments();
  HostGuard guard;
  uint32_t number = 0;
};

void check_stops(const protocol::Result<void>& result, const char* words) {
  REQUIRE_FALSE(result);
  CHECK(result.error().code == Errc::stopped_by_guard);
  CHECK_THAT(result.error().message, Contains(words));
}

TEST_CASE("guard: lets pass what lies within its limits", "[host][guard]") {
  Watch watch;
  watch.guard.set_limits({-100.0, 1000.0, -0.001, 0.150});
  for (const double force_N : {-99.0, 0.0, 500.0, 999.0}) CHECK(watch.see(force_N));
  for (const double carriage_m : {-0.0009, 0.0, 0.1499}) CHECK(watch.see(10.0, carriage_m));
}

TEST_CASE("guard: stops at a force beyond either limit", "[host][guard]") {
  Watch watch;
  watch.guard.set_limits({-100.0, 1000.0, -0.001, 0.150});
  check_stops(watch.see(1001.0), "the force is 1001 N, outside -100 to 1000 N");
  check_stops(watch.see(-101.0), "the force is -101 N");
}

TEST_CASE("guard: stops outside the travel, once the position is known", "[host][guard]") {
  Watch watch;
  watch.guard.set_limits({-100.0, 1000.0, -0.001, 0.150});
  check_stops(watch.see(0.0, 0.151), "the carriage is at 151.0 mm");
  check_stops(watch.see(0.0, -0.002), "the carriage is at -2.0 mm");
  CHECK(watch.see(0.0, 0.151, 0));
}

TEST_CASE("guard: stops at a force that the way does not explain", "[host][guard]") {
  Watch watch;
  watch.guard.set_limits({-300.0, 2000.0, -0.001, 0.150, 300e3});
  CHECK(watch.see(100.0, 0.0500));
  CHECK(watch.see(329.0, 0.0501));  // 30 N by its rate, and not more than 200 besides
  check_stops(watch.see(98.0, 0.0502), "the force jumped from 329 to 98 N within 0.10 mm");
  // At rest a weight may be hung, and a rigid block is as steep as it is.
  watch.guard.restart(0);
  CHECK(watch.see(100.0, 0.0500));
  CHECK(watch.see(900.0, 0.0500));
  watch.guard.set_limits({-300.0, 2000.0, -0.001, 0.150, std::nullopt});
  CHECK(watch.see(100.0, 0.0501));
}

TEST_CASE("guard: stops where readings have no order or came long apart", "[host][guard]") {
  Watch watch;
  TimedSample sample;
  sample.time_us = 1'000'000;
  REQUIRE(watch.guard.check(sample, watch.instruments));
  sample.time_us = 1'300'000;
  sample.load_counts = 1;
  REQUIRE(watch.guard.check(sample, watch.instruments));
  sample.time_us = 1'600'001;
  check_stops(watch.guard.check(sample, watch.instruments),
              "no reading of the load cell for 300 ms");
  sample.time_us = 1'600'001;
  check_stops(watch.guard.check(sample, watch.instruments), "the rig's clock went back");
  sample.time_us = 1'500'000;
  check_stops(watch.guard.check(sample, watch.instruments), "the rig's clock went back");
}

TEST_CASE("guard: a rig under an overload may leave it, but not go on", "[host][guard]") {
  Watch watch;
  watch.guard.set_limits({-100.0, 1000.0, -0.001, 0.150});
  watch.guard.let_leave(1500.0);
  CHECK(watch.see(1510.0));
  CHECK(watch.see(1200.0));
  check_stops(watch.see(1600.0), "the force is 1600 N");
  CHECK(watch.see(900.0));
  // Inside once: the way out is over.
  check_stops(watch.see(1200.0), "the force is 1200 N");
}

TEST_CASE("guard: stops at a frozen reading, and not one sample earlier", "[host][guard]") {
  Watch watch;
  TimedSample sample;
  sample.load_counts = 12345;
  for (int i = 1; i < HostGuard::kFrozenSamples; ++i) {
    sample.time_us += 12'500;
    REQUIRE(watch.guard.check(sample, watch.instruments));
  }
  sample.time_us += 12'500;
  check_stops(watch.guard.check(sample, watch.instruments), "the same reading (12345) 60 times");
}

TEST_CASE("guard: stops at the ends of the converter", "[host][guard]") {
  for (const int32_t counts : {wire::kCountsMin, wire::kCountsMax}) {
    Watch watch;
    watch.guard.set_limits({-1e9, 1e9, -1.0, 1.0});
    TimedSample sample;
    sample.load_counts = counts;
    check_stops(watch.guard.check(sample, watch.instruments), "end of its range");
  }
}

TEST_CASE("guard: stops when no reading comes though the rig's clock goes on", "[host][guard]") {
  Watch watch;
  watch.guard.restart(1'000'000);
  CHECK(watch.guard.check_time(1'000'000 + HostGuard::kStaleDevice_us));
  check_stops(watch.guard.check_time(1'000'001 + HostGuard::kStaleDevice_us), "no reading");
  REQUIRE(watch.see(0.0));
  CHECK(watch.guard.check_time(12'500 + HostGuard::kStaleDevice_us));
}

// --- Instruments --------------------------------------------------------------------------------

TEST_CASE("instruments: counts and steps come back from newtons and metres", "[host]") {
  Instruments instruments = plain_instruments();
  instruments.zero_counts = 41260.0;
  instruments.zero_steps = 4789.0;
  for (const double force_N : {-150.0, 0.0, 1.0, 2500.0}) {
    // To half a count of 1.2 mN.
    CHECK_THAT(instruments.force_N(*instruments.counts_at(force_N)), WithinAbs(force_N, 0.0007));
  }
  for (const double travel_m : {-0.012, 0.0, 0.146}) {
    CHECK_THAT(instruments.carriage_m(*instruments.steps_at(travel_m)),
               WithinAbs(travel_m, 1.3e-6));
  }
  CHECK_THAT(instruments.steps_per_m(), WithinRel(400e3, 1e-12));
}

TEST_CASE("instruments: a curve of higher degree and a cell wired the other way are inverted too",
          "[host]") {
  Instruments instruments = plain_instruments();
  instruments.force.coefficients = {3.0, -0.0012, 2e-12};
  instruments.zero_counts = -15000.0;
  for (const double force_N : {-200.0, 0.0, 2500.0}) {
    CHECK_THAT(instruments.force_N(*instruments.counts_at(force_N)), WithinAbs(force_N, 0.001));
  }
}

TEST_CASE("instruments: a limit that the converter cannot see is refused", "[host]") {
  const Instruments instruments = plain_instruments();
  const auto counts = instruments.counts_at(20000.0);
  REQUIRE_FALSE(counts);
  CHECK(counts.error().code == Errc::input_out_of_range);
}

TEST_CASE("instruments: the frame's give is taken off travel, not off the carriage", "[host]") {
  Instruments instruments = plain_instruments();
  protocol::AppliedCalibration frame;
  frame.coefficients = {0.0, 1.0 / 6500e3};
  instruments.frame = frame;
  CHECK_THAT(instruments.travel_m(40000.0, 1300.0), WithinAbs(0.1 - 0.0002, 1e-12));
  CHECK_THAT(instruments.carriage_m(40000.0), WithinAbs(0.1, 1e-12));
}

// --- Progress -----------------------------------------------------------------------------------

struct Shown final : ProgressSink {
  void show(const Progress& progress) override { all.push_back(progress); }
  std::vector<Progress> all;
};

TEST_CASE("progress: no promise before it is known, never done before it is", "[host]") {
  Shown shown;
  ProgressMeter meter(&shown);
  using std::chrono::milliseconds;
  meter.begin(100.0, 0, HostTime(0));
  meter.enter("measuring");
  meter.update(500'000, milliseconds(500));
  REQUIRE(shown.all.size() == 1);
  CHECK_FALSE(shown.all[0].left_s);
  meter.update(40'000'000, milliseconds(40'000));
  REQUIRE(shown.all.size() == 2);
  CHECK_THAT(shown.all[1].fraction, WithinRel(0.4, 1e-12));
  CHECK_THAT(*shown.all[1].left_s, WithinRel(60.0, 1e-12));
  meter.update(400'000'000, milliseconds(400'000));
  CHECK(shown.all[2].fraction == 0.99);
  CHECK(*shown.all[2].left_s == 0.0);
  meter.finish();
  CHECK(shown.all[3].fraction == 1.0);
}

TEST_CASE("progress: counts in the host's time, however fast the rig's goes", "[host]") {
  Shown shown;
  ProgressMeter meter(&shown);
  using std::chrono::milliseconds;
  meter.begin(100.0, 0, HostTime(0));
  meter.update(50'000'000, milliseconds(2'000));
  REQUIRE(shown.all.size() == 1);
  CHECK_THAT(*shown.all[0].left_s, WithinRel(2.0, 1e-12));
}

TEST_CASE("progress: is shown ten times a second at most", "[host]") {
  Shown shown;
  ProgressMeter meter(&shown);
  using std::chrono::milliseconds;
  meter.begin(100.0, 0, HostTime(0));
  for (int ms = 0; ms < 1000; ++ms) meter.update(ms * 1000, milliseconds(ms));
  CHECK(shown.all.size() == 10);
}

}  // namespace
