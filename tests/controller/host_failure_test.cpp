// A sweep in which something goes wrong, at every place where it can: the rig must end stopped,
// the record must be kept and marked, and the error must say where.
#include <catch2/catch.hpp>
#include <csignal>

#include "controller/host/interrupt_key.hpp"
#include "protocol/record/record_reader.hpp"
#include "tests/support/failing_file_system.hpp"
#include "tests/support/failing_link.hpp"
#include "tests/support/host_bench.hpp"

namespace {

using namespace test_support;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;
using protocol::Errc;
using protocol::ExitCode;
using protocol::RecordState;
using virtual_rig::Fault;
using virtual_rig::FaultKind;

// Every operation fails once; under the sanitizers, where each takes ten times as long, every
// fifth.
#ifdef __SANITIZE_ADDRESS__
constexpr int kEvery = 5;
#else
constexpr int kEvery = 1;
#endif

// The record is there in full, or there and marked, or not there at all.
enum class Left { nothing, interrupted, complete };

Left what_is_left(const std::filesystem::path& path) {
  if (!std::filesystem::exists(path)) {
    CHECK_FALSE(std::filesystem::exists(protocol::metadata_path(path)));
    return Left::nothing;
  }
  // Also a record without a row yet says what became of it.
  const auto metadata = protocol::load_record_metadata(path);
  if (!metadata) UNSCOPED_INFO(metadata.error().message);
  REQUIRE(metadata);
  return metadata->state == RecordState::complete ? Left::complete : Left::interrupted;
}

bool names_a_step(const std::string& message) {
  for (const char* step :
       {"opening: ", "getting ready: ", "homing: ", "finding top-out: ", "setting the limits: ",
        "settling: ", "opening the record: ", "conditioning, cycle", "measuring, cycle",
        "reading the unloaded load cell again: ", "closing the record: "}) {
    if (message.rfind(step, 0) == 0) return true;
  }
  return false;
}

struct Scene {
  int operations = 0;
  bool failed = false;
  Left left = Left::nothing;
};

// One tiny sweep over a link that fails at its n-th operation.
Scene play(int fail_at, FailingLink::How how) {
  CAPTURE(fail_at);
  TemporaryFolder folder;
  RigInMemory rig;
  FailingLink link(rig.link, fail_at, how);
  HostSide side(link);
  protocol::DiskFileSystem files;
  const host::SweepPlan plan = tiny_plan(folder / "sweep.csv", rig.setting);
  const auto outcome = side.sweep(plan, files);
  Scene scene;
  scene.operations = link.operations();
  scene.failed = link.failed();
  scene.left = what_is_left(plan.path);
  const bool went_wrong = !outcome || outcome->afterwards.has_value();
  CHECK(went_wrong == scene.failed);
  if (!went_wrong) {
    CHECK(scene.left == Left::complete);
    return scene;
  }
  const protocol::Error error = outcome ? *outcome->afterwards : outcome.error();
  CAPTURE(error.message);
  CHECK(error.code == (how == FailingLink::How::lost   ? Errc::link_lost
                       : error.code == Errc::not_a_rig ? Errc::not_a_rig
                                                       : Errc::link_timeout));
  CHECK(names_a_step(error.message));
  // Rows that were all taken make a complete record, whatever happens later.
  CHECK((scene.left == Left::complete) == outcome.has_value());
  CHECK(rig.comes_to_rest());
  return scene;
}

TEST_CASE("sweep: the cable is pulled at operation n, for every n", "[host][sweep][fault]") {
  const int operations = play(-1, FailingLink::How::lost).operations;
  REQUIRE(operations > 100);
  int interrupted = 0;
  for (int n = 0; n < operations; n += kEvery) {
    interrupted += play(n, FailingLink::How::lost).left == Left::interrupted ? 1 : 0;
  }
  // The strokes are a good part of it.
  CHECK(interrupted > 50 / kEvery);
  CHECK_FALSE(play(operations, FailingLink::How::lost).failed);
}

TEST_CASE("sweep: the rig falls silent at operation n, for every n", "[host][sweep][fault]") {
  const int operations = play(-1, FailingLink::How::silent).operations;
  for (int n = 0; n < operations; n += kEvery) play(n, FailingLink::How::silent);
}

TEST_CASE("sweep: the disk fills up at operation n, for every n", "[host][sweep][fault]") {
  for (int n = 0;; ++n) {
    CAPTURE(n);
    TemporaryFolder folder;
    HostBench bench;
    FailingFileSystem files(bench.files, n, Failure::disk_full);
    const host::SweepPlan plan = tiny_plan(folder / "sweep.csv", bench.setting);
    const auto outcome = bench.host.sweep(plan, files);
    CHECK(bench.comes_to_rest());
    const Left left = what_is_left(plan.path);
    if (!files.failed()) {
      CHECK(outcome);
      CHECK(left == Left::complete);
      // Creating, rows, one sync for each stroke, closing.
      CHECK(n > 8);
      break;
    }
    REQUIRE_FALSE(outcome);
    CHECK(outcome.error().code == Errc::write_failed);
    CHECK(names_a_step(outcome.error().message));
    // Only once the closing metadata has its name can the record be complete.
    if (left == Left::complete) CHECK(files.log().back() == "sync_folder");
  }
}

// --- The operator -------------------------------------------------------------------------------

// Stops at a row of the second stroke.
struct StopAtRow final : host::SweepObserver {
  explicit StopAtRow(std::function<void()> action) : stop(std::move(action)) {}
  void row(const protocol::RecordRow& row) override {
    if (row.stroke == 1 && ++seen == 5) stop();
  }
  void stroke_done(const host::StrokeEnd&) override {}
  std::function<void()> stop;
  int seen = 0;
};

TEST_CASE("sweep: a stop by the operator decelerates and keeps record and position",
          "[host][sweep][fault]") {
  TemporaryFolder folder;
  HostBench bench;
  StopAtRow observer([&] { bench.host.stop.raise(host::StopLevel::stop); });
  host::SweepHooks hooks;
  hooks.observer = &observer;
  const host::SweepPlan plan = short_plan(folder / "sweep.csv", bench.setting);
  const auto outcome = bench.sweep(plan, hooks);
  REQUIRE_FALSE(outcome);
  CHECK(outcome.error().code == Errc::stopped_by_operator);
  CHECK_THAT(outcome.error().message, StartsWith("conditioning, cycle 1 of 1: ") &&
                                          Contains("marked interrupted") &&
                                          Contains(plan.path.string()));
  CHECK(bench.peer.rig.rig().motion() == protocol::wire::Motion::idle);
  CHECK((bench.peer.rig.rig().flags() & protocol::wire::kFlagPositionKnown) != 0);
  CHECK(bench.peer.rig.rig().faults() == 0);
  const auto record = protocol::load_record(plan.path);
  REQUIRE(record);
  CHECK(record->metadata.state == RecordState::interrupted);
  CHECK_THAT(record->metadata.state_reason, Contains("Stopped by the operator"));
  CHECK(record->stroke.back() == 1);
  CHECK(record->metadata.counters.frames > 100);
}

TEST_CASE("sweep: a halt by the operator takes no further step", "[host][sweep][fault]") {
  TemporaryFolder folder;
  HostBench bench;
  double at_m = 0.0;
  StopAtRow observer([&] {
    bench.host.stop.raise(host::StopLevel::halt);
    at_m = bench.peer.rig.carriage_m();
  });
  host::SweepHooks hooks;
  hooks.observer = &observer;
  const auto outcome = bench.sweep(short_plan(folder / "sweep.csv", bench.setting), hooks);
  REQUIRE_FALSE(outcome);
  CHECK(outcome.error().code == Errc::stopped_by_operator);
  CHECK(bench.comes_to_rest());
  // 10 mm/s for the few milliseconds until the halt arrives.
  CHECK(std::abs(bench.peer.rig.carriage_m() - at_m) < 0.0002);
}

TEST_CASE("sweep: a stop before the first motion moves nothing", "[host][sweep][fault]") {
  TemporaryFolder folder;
  HostBench bench;
  bench.host.stop.raise(host::StopLevel::stop);
  const double before_m = bench.peer.rig.carriage_m();
  REQUIRE(bench.host.session.open());
  REQUIRE(bench.host.press.prepare());
  const auto homed = bench.host.press.home();
  REQUIRE_FALSE(homed);
  CHECK(homed.error().code == Errc::stopped_by_operator);
  CHECK(bench.peer.rig.carriage_m() == before_m);
}

TEST_CASE("interrupt key: the first signal stops, the second halts", "[host][fault]") {
  host::InterruptKey key;
  CHECK(key.level() == host::StopLevel::none);
  REQUIRE(std::raise(SIGINT) == 0);
  CHECK(key.level() == host::StopLevel::stop);
  CHECK(key.level() == host::StopLevel::stop);
  REQUIRE(std::raise(SIGINT) == 0);
  CHECK(key.level() == host::StopLevel::halt);
}

TEST_CASE("check list: a refused item, or a stop, starts nothing", "[host][fault]") {
  struct Refusing final : host::Operator {
    void ask(const std::string& what) override { asked.push_back(what); }
    host::Answer answer(std::chrono::milliseconds) override {
      return asked.size() == 2 ? host::Answer::refused : host::Answer::done;
    }
    std::vector<std::string> asked;
  } person;
  host::StopFlag stop;
  const auto items = host::check_list(caliper_fork("larch_160"), setting_of(81, 1));
  CHECK(items.size() >= 6);
  const auto checked = host::go_through(items, person, stop);
  REQUIRE_FALSE(checked);
  CHECK(checked.error().code == Errc::stopped_by_operator);
  CHECK(person.asked == std::vector<std::string>(items.begin(), items.begin() + 2));
  stop.raise(host::StopLevel::stop);
  host::AgreeingOperator agreeing;
  CHECK_FALSE(host::go_through(items, agreeing, stop));
}

// --- The rig ------------------------------------------------------------------------------------

struct FaultRow {
  FaultKind kind;
  ExitCode exit;
  const char* words;
};

TEST_CASE("sweep: a fault of the rig in mid-stroke ends it, and the record says why",
          "[host][sweep][fault]") {
  static const FaultRow kRows[] = {
      {FaultKind::emergency_stop, ExitCode::stopped, "emergency stop"},
      {FaultKind::brown_out, ExitCode::stopped, "restarted"},
      {FaultKind::stuck_load_cell, ExitCode::stopped, "frozen"},
      // Rig and host both see it; whoever is first.
      {FaultKind::saturated_load_cell, ExitCode::stopped, "end of its range"},
      {FaultKind::silent_load_cell, ExitCode::stopped, "silent"},
      {FaultKind::stuck_high_switch, ExitCode::stopped, "limit switch"},
      {FaultKind::unplug, ExitCode::rig_or_link, "silent"},
  };
  for (const FaultRow& row : kRows) {
    CAPTURE(row.words);
    TemporaryFolder folder;
    Fault fault;
    fault.kind = row.kind;
    fault.at_carriage_m = 0.008;
    HostBench bench(setting_of(81, 1), {fault});
    const host::SweepPlan plan = short_plan(folder / "sweep.csv", bench.setting);
    const auto outcome = bench.sweep(plan);
    REQUIRE_FALSE(outcome);
    CHECK(protocol::exit_code(outcome.error().code) == row.exit);
    CHECK_THAT(outcome.error().message, Contains(row.words));
    CHECK(what_is_left(plan.path) == Left::interrupted);
    CHECK(bench.comes_to_rest());
  }
}

TEST_CASE("sweep: after a fault nothing moves before it is homed", "[host][sweep][fault]") {
  TemporaryFolder folder;
  Fault fault;
  fault.kind = FaultKind::brown_out;
  fault.at_carriage_m = 0.008;
  HostBench bench(setting_of(81, 1), {fault});
  REQUIRE_FALSE(bench.sweep(short_plan(folder / "sweep.csv", bench.setting)));
  // A new session on the same rig, as after plugging it in again.
  HostSide again(bench.link);
  REQUIRE(again.session.open());
  REQUIRE(again.press.prepare());
  REQUIRE(again.press.set_limits({}));
  const auto moved = again.press.move_to(4000, 0.004);
  REQUIRE_FALSE(moved);
  CHECK(moved.error().code == Errc::not_homed);
  REQUIRE(again.press.home());
  CHECK(again.press.move_to(1000, 0.004));
}

TEST_CASE("sweep: samples lost on the line are counted, located and kept with the record",
          "[host][sweep][fault]") {
  TemporaryFolder folder;
  Fault fault;
  fault.kind = FaultKind::lost_bytes;
  fault.amount = 100;
  fault.at_carriage_m = 0.008;
  HostBench bench(setting_of(81, 1), {fault});
  const host::SweepPlan plan = short_plan(folder / "sweep.csv", bench.setting);
  const auto outcome = bench.sweep(plan);
  REQUIRE(outcome);
  CHECK(outcome->lost_samples >= 2);
  const auto record = protocol::load_record(plan.path);
  REQUIRE(record);
  CHECK(record->metadata.state == RecordState::complete);
  CHECK(record->metadata.counters.lost_samples == outcome->lost_samples);
  REQUIRE_FALSE(record->metadata.remarks.empty());
  CHECK_THAT(record->metadata.remarks.back(), Contains("lost on the line after"));
  // The gap is in the times, too: nothing was joined over.
  double widest_s = 0.0;
  for (size_t i = 1; i < record->size(); ++i) {
    widest_s = std::max(widest_s, record->time_s[i] - record->time_s[i - 1]);
  }
  CHECK(widest_s > 0.030);
}

TEST_CASE("sweep: garbage on the line costs no sample that was sent whole",
          "[host][sweep][fault]") {
  TemporaryFolder folder;
  Fault fault;
  fault.kind = FaultKind::garbage_bytes;
  fault.amount = 300;
  fault.at_carriage_m = 0.008;
  HostBench bench(setting_of(81, 1), {fault});
  const host::SweepPlan plan = short_plan(folder / "sweep.csv", bench.setting);
  const auto outcome = bench.sweep(plan);
  REQUIRE(outcome);
  const auto record = protocol::load_record(plan.path);
  REQUIRE(record);
  CHECK(record->metadata.counters.bad_frames > 0);
  CHECK(record->metadata.counters.resync_bytes > 100);
  CHECK(record->metadata.counters.lost_samples <= 1);
}

TEST_CASE("sweep: does not begin while the emergency stop is pressed", "[host][sweep][fault]") {
  TemporaryFolder folder;
  Fault fault;
  fault.kind = FaultKind::emergency_stop;
  fault.at_time_s = 0.0;
  HostBench bench(setting_of(81, 1), {fault});
  const auto outcome = bench.sweep(short_plan(folder / "sweep.csv", bench.setting));
  REQUIRE_FALSE(outcome);
  CHECK(outcome.error().code == Errc::stopped_by_rig);
  CHECK_THAT(outcome.error().message,
             StartsWith("getting ready: ") && Contains("release the emergency stop"));
  CHECK(folder.names().empty());
}

TEST_CASE("press: homes from on top of the switch, and after a fault that left it loaded",
          "[host][fault]") {
  VirtualPeer on_switch(plant_file("larch_160"), {1, setting_of(81, 1), {}, -0.0125});
  host::MemoryLink link(on_switch);
  HostSide side(link);
  REQUIRE(side.session.open());
  REQUIRE(side.press.prepare());
  REQUIRE(side.press.set_limits({}));
  REQUIRE(side.press.home());

  // Brown-out at the far end of a stroke: the next session finds the fork pressed.
  TemporaryFolder folder;
  Fault fault;
  fault.kind = FaultKind::brown_out;
  fault.at_carriage_m = 0.029;
  HostBench bench(setting_of(81, 1), {fault});
  REQUIRE_FALSE(bench.sweep(short_plan(folder / "a.csv", bench.setting)));
  HostSide again(bench.link);
  protocol::DiskFileSystem files;
  const auto outcome = again.sweep(short_plan(folder / "b.csv", bench.setting), files);
  if (!outcome) UNSCOPED_INFO(outcome.error().message);
  CHECK(outcome);
}

}  // namespace
