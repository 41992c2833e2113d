#include "tests/campaign/cell.hpp"

#include <cmath>
#include <map>

#include "protocol/record/record_reader.hpp"
#include "tests/campaign/struck_disk.hpp"
#include "tests/support/host_bench.hpp"

namespace tests::campaign {
namespace {

using controller::virtual_rig::FaultKind;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

// Thrown where the host is killed: whatever it held in memory is lost with it.
struct Killed {};

constexpr double kTo_m = 0.008;
constexpr double kSpeed_m_s = 0.012;

// The whole host side with its rig, and the one thing that goes wrong.
class Scene final : private host::SweepObserver {
 public:
  explicit Scene(const CellRequest& request)
      : request_(request),
        random_(request.seed),
        rig_(make_rig(request.rig, test_support::plant_file("larch_160"),
                      {request.seed, test_support::setting_of(81, 1), {}, -0.011})),
        memory_(*rig_),
        line_(memory_, request.seed),
        side_(line_, short_leash(), quick_homing()),
        files_(disk_) {
    line_.set_on_request([this](uint8_t type) { requested(type); });
  }

  CellResult play() {
    try {
      if (request_.phase == Phase::hello) strike_now();
      const Result<void> done = request_.phase == Phase::calibration ? calibrate() : sweep();
      if (!done) ended_with(done.error());
    } catch (const Killed&) {
      result_.exit = -1;
      result_.message = "killed";
    }
    result_.struck = struck_;
    const std::chrono::milliseconds timeout(short_leash().rig_timeout_ms);
    if (!rig_->comes_to_rest_within(timeout)) wrong("the carriage still moves");
    look_at_record();
    return result_;
  }

 private:
  // Shorter than a stroke, so that a rig that does not mind its host's silence is caught moving.
  static host::HeartbeatPolicy short_leash() {
    return {std::chrono::milliseconds(50), std::chrono::milliseconds(100), 300, false};
  }

  static host::PressSettings quick_homing() {
    host::PressSettings settings;
    settings.home_back_off_m = 0.0005;
    return settings;
  }

  // --- The jobs ---------------------------------------------------------------------------------

  Result<void> sweep() {
    host::SweepPlan plan = test_support::tiny_plan(record_path(), test_support::setting_of(81, 1));
    plan.to_m = kTo_m;
    plan.conditioning_cycles = 1;
    plan.top_out.zero_samples = 80;
    plan.program = {{kSpeed_m_s, 1, 0.3, 0}};
    host::SweepHooks hooks;
    hooks.observer = this;
    const auto outcome = side_.sweep(plan, files_, hooks);
    if (!outcome) return outcome.error();
    return outcome->afterwards ? Result<void>(*outcome->afterwards) : Result<void>();
  }

  // What a guided calibration does with a rig: home, and read the cell in several places.
  Result<void> calibrate() {
    Result<void> done = side_.session.open();
    if (!done) return done;
    const Result<uint16_t> prepared = side_.press.prepare();
    if (!prepared) return prepared.error();
    done = side_.press.set_limits({-300.0, 300.0, 0.0, 0.200});
    if (!done) return done;
    const Result<int32_t> home = side_.press.home();
    if (!home) return home.error();
    strike_soon(1500);
    constexpr int kPlaces = 4;
    for (int place = 1; place <= kPlaces; ++place) {
      done = side_.press.move_to(*home + 400 * place, 0.004);
      if (!done) return done;
      const Result<host::ZeroReading> reading = side_.press.read_zero(80);
      if (!reading) return reading.error();
    }
    return {};
  }

  // --- When it strikes --------------------------------------------------------------------------

  void requested(uint8_t type) {
    if (type != static_cast<uint8_t>(wire::MessageType::home)) return;
    ++homings_;
    if (request_.phase == Phase::homing && homings_ == 1) strike_soon(900);
    if (request_.phase == Phase::finishing && rows_seen_ > 0) strike_soon(900);
  }

  // Strokes are numbered: two of conditioning, then a measuring one, its rest, and the way back.
  void row(const protocol::RecordRow& row) override {
    ++rows_seen_;
    last_row_s_ = row.time_s;
    if (rows_seen_ == 1) first_row_s_ = row.time_s;
    standing_ = row.raw_steps == last_steps_ ? standing_ + 1 : 0;
    last_steps_ = row.raw_steps;
    const bool rests = standing_ >= 3;
    if (request_.phase == Phase::conditioning && row.stroke <= 1) strike_soon(900);
    if (request_.phase == Phase::measuring && row.stroke == 2) strike_soon(500);
    if (request_.phase == Phase::dwell && row.stroke == 2 && rests) strike_soon(150);
    if (request_.phase == Phase::returning && row.stroke == 3) strike_soon(500);
  }
  void stroke_done(const host::StrokeEnd&) override {}

  void strike_soon(int most_ms) {
    if (asked_) return;
    asked_ = true;
    const auto delay = std::uniform_int_distribution<int>(0, most_ms)(random_);
    line_.strike_in(std::chrono::milliseconds(delay), [this] { strike_now(); });
  }

  void strike_now() {
    struck_ = true;
    std::visit([this](auto fault) { strike(fault); }, request_.fault.strike);
  }

  void strike(LineFault fault) { line_.fail(fault); }
  void strike(FaultKind kind) {
    virtual_rig::Fault fault;
    fault.kind = kind;
    fault.amount = request_.fault.amount;
    rig_->inject(fault);
  }
  void strike(ChipFault) { struck_ = rig_->hang(); }
  void strike(DiskFault fault) { files_.fail(fault); }
  void strike(HostFault fault) {
    switch (fault) {
      case HostFault::killed:
        throw Killed();
      case HostFault::suspended:
        rig_->pass(std::chrono::seconds(3));
        return;
      case HostFault::operator_stop:
        side_.stop.raise(host::StopLevel::stop);
        return;
    }
  }

  // --- What became of it ------------------------------------------------------------------------

  void wrong(const std::string& what) { result_.wrong.push_back(what); }
  std::filesystem::path record_path() const { return folder_ / "sweep.csv"; }

  void ended_with(const Error& error) {
    result_.exit = static_cast<int>(protocol::exit_code(error.code));
    result_.message = error.message;
  }

  void look_at_record() {
    result_.record = "none";
    if (!std::filesystem::exists(protocol::metadata_path(record_path()))) {
      if (rows_seen_ > 0) wrong("rows were taken and no record is there");
      return;
    }
    const auto record = protocol::load_record(record_path(), protocol::UnusableRecords::accept);
    if (!record) {
      result_.record = "empty";
      if (rows_seen_ > 80) wrong("the record cannot be read: " + record.error().message);
      return;
    }
    const bool complete = record->metadata.state == protocol::RecordState::complete;
    result_.record = !record->metadata.unusable_reason.empty() ? "unusable"
                     : complete                                ? "complete"
                                                               : "interrupted";
    result_.rows = record->size();
    // A few steps of the rig's start from rest may come before the first sample.
    constexpr int64_t kSlack_steps = 60;
    constexpr int kStrokes = 4;
    result_.whole = record->stroke.back() == kStrokes - 1 &&
                    std::abs(record->raw_steps.back() - record->raw_steps.front()) < kSlack_steps;
    for (const std::string& remark : record->metadata.remarks) result_.remarks += remark + " ";
    result_.lost_s = last_row_s_ - first_row_s_ - (record->time_s.back() - record->time_s.front());
    if (!complete && record->metadata.state_reason.empty()) wrong("it does not say why it ended");
    compare_with_sent(*record);
    if (complete && !request_is_disk()) check_gaps(*record);
  }

  bool request_is_disk() const { return std::holds_alternative<DiskFault>(request_.fault.strike); }

  // Every row is a sample that the rig sent, as it sent it.
  void compare_with_sent(const protocol::SweepRecord& record) {
    std::map<int64_t, const wire::Sample*> by_time;
    for (const wire::Sample& sample : rig_->sent()) by_time[sample.time_us] = &sample;
    for (const wire::Sample& first : rig_->sent()) {
      if (first.position_steps != record.raw_steps.front() ||
          first.load_counts != record.raw_counts.front()) {
        continue;
      }
      size_t i = 0;
      for (; i < record.size(); ++i) {
        const auto time_us =
            first.time_us + std::llround((record.time_s[i] - record.time_s.front()) * 1e6);
        const auto found = by_time.find(static_cast<uint32_t>(time_us));
        if (found == by_time.end() || found->second->position_steps != record.raw_steps[i] ||
            found->second->load_counts != record.raw_counts[i]) {
          break;
        }
      }
      if (i == record.size()) return;
    }
    wrong("a row is not what the rig sent");
  }

  // Rows that are not there were counted as lost.
  void check_gaps(const protocol::SweepRecord& record) {
    uint64_t missing = 0;
    for (size_t i = 1; i < record.size(); ++i) {
      const double periods = (record.time_s[i] - record.time_s[i - 1]) * 80.0;
      missing += static_cast<uint64_t>(std::max(0L, std::lround(periods) - 1));
    }
    if (missing > record.metadata.counters.lost_samples + 1) {
      wrong(std::to_string(missing) + " samples are missing and " +
            std::to_string(record.metadata.counters.lost_samples) + " are counted");
    }
  }

  const CellRequest& request_;
  std::mt19937_64 random_;
  test_support::TemporaryFolder folder_;
  std::unique_ptr<StruckRig> rig_;
  host::MemoryLink memory_;
  StruckLine line_;
  test_support::HostSide side_;
  protocol::DiskFileSystem disk_;
  StruckDisk files_;
  CellResult result_;
  int homings_ = 0;
  uint64_t rows_seen_ = 0;
  int64_t last_steps_ = 0;
  int standing_ = 0;
  double first_row_s_ = 0.0;
  double last_row_s_ = 0.0;
  bool asked_ = false;
  bool struck_ = false;
};

}  // namespace

CellResult play(const CellRequest& request) {
  return Scene(request).play();
}

bool applies(const FaultRow& fault, Phase phase, RigKind rig) {
  if (std::holds_alternative<DiskFault>(fault.strike) && phase == Phase::calibration) return false;
  if (std::holds_alternative<ChipFault>(fault.strike) && rig != RigKind::chip) return false;
  return true;
}

}  // namespace tests::campaign
