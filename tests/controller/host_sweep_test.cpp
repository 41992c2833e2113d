// A whole sweep on the virtual rig, in virtual time: what ends up in the record.
#include <catch2/catch.hpp>

#include "calibration/instrument.hpp"
#include "protocol/record/record_reader.hpp"
#include "tests/support/host_bench.hpp"

namespace {

using namespace test_support;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using protocol::Errc;

protocol::SweepRecord load(const std::filesystem::path& path) {
  const auto record = protocol::load_record(path);
  if (!record) UNSCOPED_INFO(record.error().message);
  REQUIRE(record);
  return *record;
}

TEST_CASE("sweep: leaves a complete record of all strokes", "[host][sweep]") {
  TemporaryFolder folder;
  HostBench bench;
  host::SweepPlan plan = short_plan(folder / "a.csv", bench.setting);
  plan.measuring_cycles = 2;
  const auto outcome = bench.sweep(plan);
  if (!outcome) UNSCOPED_INFO(outcome.error().message);
  REQUIRE(outcome);
  CHECK_FALSE(outcome->afterwards);
  CHECK(outcome->measured_cycles == 2);
  CHECK(outcome->lost_samples == 0);

  const protocol::SweepRecord record = load(plan.path);
  CHECK(record.size() == outcome->rows);
  CHECK(record.metadata.state == protocol::RecordState::complete);
  CHECK(record.stroke.front() == 0);
  CHECK(record.stroke.back() == 5);
  // 30 mm at 10 mm/s and 50 mm/s2 take 3.2 s: 256 samples, and what the turns take.
  CHECK_THAT(static_cast<double>(record.size()), WithinAbs(6 * 258.0, 12.0));
  for (size_t i = 1; i < record.size(); ++i) {
    CHECK(record.time_s[i] > record.time_s[i - 1]);
    CHECK(record.stroke[i] >= record.stroke[i - 1]);
  }
}

TEST_CASE("sweep: strokes go from top-out to the end and back at the commanded speed",
          "[host][sweep]") {
  TemporaryFolder folder;
  HostBench bench;
  const host::SweepPlan plan = short_plan(folder / "a.csv", bench.setting);
  REQUIRE(bench.sweep(plan));
  const protocol::SweepRecord record = load(plan.path);
  const auto [low, high] = std::minmax_element(record.travel_m.begin(), record.travel_m.end());
  // A sample comes every 12.5 ms: at a turn it may miss the end by little.
  CHECK_THAT(*low, WithinAbs(0.0, 0.0002));
  CHECK_THAT(*high, WithinAbs(0.030, 0.0002));
  for (size_t i = 1; i < record.size(); ++i) {
    if (record.stroke[i] != 0 || record.travel_m[i] < 0.005 || record.travel_m[i] > 0.025) continue;
    const double speed_m_s =
        (record.travel_m[i] - record.travel_m[i - 1]) / (record.time_s[i] - record.time_s[i - 1]);
    // Because position is whole steps: 2.5 um in 12.5 ms.
    CHECK_THAT(speed_m_s, WithinAbs(0.010, 0.0003));
  }
}

TEST_CASE("sweep: travel zero is the plant's top-out within the stated doubt", "[host][sweep]") {
  TemporaryFolder folder;
  HostBench bench;
  const host::SweepPlan plan = short_plan(folder / "a.csv", bench.setting);
  REQUIRE(bench.sweep(plan));
  const protocol::SweepRecord record = load(plan.path);
  // Where the switch is: 12 mm above top-out, at 400.04 steps/mm as built.
  const double truth_steps = 12.0 * 400.04;
  const double zero_steps = static_cast<double>(record.raw_steps[0]) -
                            record.travel_m[0] * bench.host.press.instruments().steps_per_m();
  const double doubt_steps = record.metadata.doubt.travel_zero_m * 1e3 * 400.0;
  CHECK(std::abs(zero_steps - truth_steps) < doubt_steps);
}

TEST_CASE("sweep: raw counts and steps give force and travel again by the metadata alone",
          "[host][sweep]") {
  TemporaryFolder folder;
  HostBench bench;
  const host::SweepPlan plan = short_plan(folder / "a.csv", bench.setting);
  REQUIRE(bench.sweep(plan));
  const protocol::SweepRecord record = load(plan.path);
  const protocol::Metadata& metadata = record.metadata;
  REQUIRE(metadata.force_calibration);
  REQUIRE(metadata.travel_calibration);
  REQUIRE(metadata.zero_before_counts);
  const auto steps_0 = static_cast<double>(record.raw_steps[0]);
  for (size_t i = 0; i < record.size(); ++i) {
    // Because a record keeps forces to a ten-thousandth of a newton or better, lengths to 10 nm.
    CHECK_THAT(record.force_N[i],
               WithinAbs(calibration::apply_force(*metadata.force_calibration,
                                                  static_cast<double>(record.raw_counts[i]),
                                                  metadata.zero_before_counts),
                         1e-4));
    CHECK_THAT(
        record.travel_m[i] - record.travel_m[0],
        WithinAbs(calibration::apply_travel(*metadata.travel_calibration, std::nullopt,
                                            static_cast<double>(record.raw_steps[i]), steps_0, 0.0),
                  2e-8));
  }
}

TEST_CASE("sweep: the metadata hold what a reader must know", "[host][sweep]") {
  TemporaryFolder folder;
  HostBench bench;
  const host::SweepPlan plan = short_plan(folder / "a.csv", bench.setting);
  REQUIRE(bench.sweep(plan));
  const protocol::Metadata metadata = load(plan.path).metadata;
  CHECK(metadata.origin == "sweep");
  CHECK(metadata.rig_id == "VIRTUAL-01");
  CHECK(metadata.fork.name == "Larch 160");
  CHECK(metadata.setting.pressure_gauge_Pa == bench.setting.pressure_gauge_Pa);
  CHECK(metadata.setting.start == protocol::GasStart::equilibrium);
  CHECK(metadata.speed_m_s == 0.010);
  CHECK(metadata.conditioning_cycles == 1);
  CHECK(metadata.measuring_cycles == 1);
  REQUIRE(metadata.zero_before_counts);
  REQUIRE(metadata.zero_after_counts);
  // The plant's cell rests at 41260 counts with 1005 of noise; 80 readings leave 112 of it.
  CHECK_THAT(*metadata.zero_before_counts, WithinAbs(41260.0, 4.0 * 112.0));
  CHECK_THAT(*metadata.zero_after_counts, WithinAbs(41260.0, 4.0 * 112.0));
  CHECK(metadata.conditions.settled_s == 1.0);
  CHECK(metadata.counters.frames > 400);
  CHECK(metadata.counters.bad_frames == 0);
  CHECK_FALSE(metadata.doubt.calibrated);
  REQUIRE_FALSE(metadata.remarks.empty());
  CHECK_THAT(metadata.remarks.front(), Contains("nominal"));
}

TEST_CASE("sweep: a rig that only pushes starts at first contact, with a larger doubt",
          "[host][sweep]") {
  TemporaryFolder folder;
  protocol::Setting setting = setting_of(81, 1);
  setting.coupling = protocol::Coupling::push;
  HostBench bench(setting);
  const host::SweepPlan plan = short_plan(folder / "a.csv", setting);
  const auto outcome = bench.sweep(plan);
  if (!outcome) UNSCOPED_INFO(outcome.error().message);
  REQUIRE(outcome);
  const protocol::SweepRecord record = load(plan.path);
  CHECK(record.metadata.setting.coupling == protocol::Coupling::push);
  CHECK(record.metadata.doubt.travel_zero_m > 0.0005);
  CHECK(record.metadata.zero_after_counts);
  // It cannot pull: nothing below zero but noise of 1.2 N.
  CHECK(*std::min_element(record.force_N.begin(), record.force_N.end()) > -8.0);
}

TEST_CASE("sweep: the same seed gives the same rows", "[host][sweep]") {
  TemporaryFolder folder;
  std::string rows[2];
  for (int i = 0; i < 2; ++i) {
    HostBench bench;
    const auto path = folder / (std::to_string(i) + ".csv");
    REQUIRE(bench.sweep(short_plan(path, bench.setting)));
    rows[i] = read_all(path);
  }
  CHECK(rows[0] == rows[1]);
}

TEST_CASE("sweep: observers see every row and each stroke's end; enough is enough",
          "[host][sweep]") {
  struct Watcher final : host::SweepObserver, host::StopPredicate, host::ProgressSink {
    void row(const protocol::RecordRow&) override { ++rows; }
    void stroke_done(const host::StrokeEnd& end) override { strokes.push_back(end); }
    bool enough(int measured_cycles) override { return measured_cycles == 2; }
    void show(const host::Progress& progress) override {
      CHECK(progress.fraction >= fraction);
      fraction = progress.fraction;
      phases.insert(progress.phase);
    }
    uint64_t rows = 0;
    std::vector<host::StrokeEnd> strokes;
    double fraction = 0.0;
    std::set<std::string> phases;
  } watcher;
  TemporaryFolder folder;
  HostBench bench;
  host::SweepPlan plan = short_plan(folder / "a.csv", bench.setting);
  plan.to_m = 0.010;
  plan.measuring_cycles = 5;
  host::SweepHooks hooks;
  hooks.observer = &watcher;
  hooks.enough = &watcher;
  hooks.progress = &watcher;
  const auto outcome = bench.sweep(plan, hooks);
  REQUIRE(outcome);
  CHECK(outcome->measured_cycles == 2);
  CHECK(watcher.rows == outcome->rows);
  REQUIRE(watcher.strokes.size() == 6);
  CHECK(watcher.strokes[1].conditioning);
  CHECK_FALSE(watcher.strokes[2].conditioning);
  CHECK(watcher.strokes[2].compression);
  CHECK_FALSE(watcher.strokes[3].compression);
  CHECK(watcher.fraction == 1.0);
  CHECK(watcher.phases.count("homing") == 1);
  CHECK(watcher.phases.count("measuring, cycle 2 of 5") == 1);
  CHECK(load(plan.path).metadata.measuring_cycles == 2);
}

// --- Refused before anything moves --------------------------------------------------------------

TEST_CASE("sweep: what fork, bench or rig cannot do is refused before anything moves",
          "[host][sweep]") {
  TemporaryFolder folder;
  const auto refuse = [&](const std::function<void(host::SweepPlan&)>& change, Errc code,
                          const char* words) {
    HostBench bench;
    host::SweepPlan plan = short_plan(folder / "a.csv", bench.setting);
    change(plan);
    const double before_m = bench.peer.rig.carriage_m();
    const auto outcome = bench.sweep(plan);
    REQUIRE_FALSE(outcome);
    CAPTURE(outcome.error().message);
    CHECK(outcome.error().code == code);
    CHECK_THAT(outcome.error().message, Contains(words));
    CHECK(bench.peer.rig.carriage_m() == before_m);
    CHECK_FALSE(std::filesystem::exists(folder / "a.csv"));
  };
  refuse([](auto& plan) { plan.metadata.setting.pressure_gauge_Pa = 2e6; },
         Errc::input_out_of_range, "above the limit");
  refuse([](auto& plan) { plan.to_m = 0.161; }, Errc::input_out_of_range, "160.0 mm of travel");
  refuse([](auto& plan) { plan.travel_max_m = 0.020; }, Errc::input_out_of_range, "bench's limit");
  refuse([](auto& plan) { plan.speed_m_s = 0.050; }, Errc::input_out_of_range, "faster than");
  refuse([](auto& plan) { plan.speed_m_s = 0.0; }, Errc::input_out_of_range, "greater than zero");
  refuse([](auto& plan) { plan.measuring_cycles = 0; }, Errc::input_out_of_range, "at least one");
  refuse([&](auto& plan) { plan.path = folder / "no-such-folder" / "a.csv"; }, Errc::write_failed,
         "no-such-folder");
}

TEST_CASE("sweep: an existing record is not overwritten, and nothing moves", "[host][sweep]") {
  TemporaryFolder folder;
  for (const char* name : {"a.csv", "a.csv-metadata.json"}) {
    const TemporaryFolder inner;
    write_all(inner / name, "precious");
    HostBench bench;
    const double before_m = bench.peer.rig.carriage_m();
    const auto outcome = bench.sweep(short_plan(inner / "a.csv", bench.setting));
    REQUIRE_FALSE(outcome);
    CHECK(outcome.error().code == Errc::output_exists);
    CHECK(bench.peer.rig.carriage_m() == before_m);
    CHECK(read_all(inner / name) == "precious");
    CHECK(inner.names().size() == 1);
  }
}

TEST_CASE("sweep: no fork in the press is noticed", "[host][sweep]") {
  TemporaryFolder folder;
  HostBench bench;
  bench.peer.rig.set_fixture(virtual_rig::Fixture::nothing);
  host::SweepPlan plan = short_plan(folder / "a.csv", bench.setting);
  plan.top_out.approach_way_max_m = 0.030;
  const auto outcome = bench.sweep(plan);
  REQUIRE_FALSE(outcome);
  CHECK(outcome.error().code == Errc::stopped_by_guard);
  CHECK_THAT(outcome.error().message, Contains("finding top-out: The fork was not felt"));
  CHECK(bench.comes_to_rest());
  CHECK_FALSE(std::filesystem::exists(plan.path));
}

TEST_CASE("sweep: a force beyond the bench's limit stops it", "[host][sweep][fault]") {
  TemporaryFolder folder;
  HostBench bench;
  host::SweepPlan plan = short_plan(folder / "a.csv", bench.setting);
  plan.force_max_N = 200.0;
  const auto outcome = bench.sweep(plan);
  REQUIRE_FALSE(outcome);
  CHECK(protocol::exit_code(outcome.error().code) == protocol::ExitCode::stopped);
  CHECK(bench.comes_to_rest());
  const protocol::SweepRecord record = load(plan.path);
  CHECK(record.metadata.state == protocol::RecordState::interrupted);
  // One sample's way beyond, at 10 mm/s on 20 N/mm.
  CHECK(*std::max_element(record.force_N.begin(), record.force_N.end()) < 210.0);
}

}  // namespace
