#include "controller/cli/panel_bench.hpp"

#include <chrono>

namespace controller::cli {

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;

namespace {

// How often a page is told what force and place are; faster than anyone reads.
constexpr std::chrono::milliseconds kTell{100};

// Asks while it keeps the rig's session alive: a check list takes longer than a rig waits.
class LookingAfter final : public host::Operator {
 public:
  LookingAfter(host::Press& press, host::Operator& person) : press_(press), person_(person) {}

  void ask(const std::string& what) override { person_.ask(what); }
  host::Answer answer(std::chrono::milliseconds patience) override {
    bool looked = false;
    const Result<void> done = press_.wait_until([&] { return std::exchange(looked, true); });
    if (!done && done.error().code != Errc::stopped_by_operator) {
      trouble_ = done.error();
      return host::Answer::refused;
    }
    return person_.answer(patience);
  }
  const std::optional<Error>& trouble() const { return trouble_; }

 private:
  host::Press& press_;
  host::Operator& person_;
  std::optional<Error> trouble_;
};

}  // namespace

PanelBench::PanelBench(Publish publish)
    : publish_(std::move(publish)), person_([this](const std::string& question) {
        change([&](BenchState& state) { state.question = question; });
      }) {
  thread_ = std::thread([this] { run(); });
}

PanelBench::~PanelBench() {
  stop_.raise();
  {
    const std::lock_guard lock(mutex_);
    quitting_ = true;
  }
  woken_.notify_all();
  thread_.join();
}

// --- From the server's thread -------------------------------------------------------------------

Result<void> PanelBench::begin(const std::string& doing, Job job, bool wants_rig) {
  {
    const std::lock_guard lock(mutex_);
    if (state_.doing != "nothing") {
      return Error{Errc::usage, "The bench is busy; wait for it, or stop it."};
    }
    if (wants_rig && !state_.connected) {
      return Error{Errc::usage, "No rig is connected; connect one first."};
    }
    state_.doing = doing;
    state_.message.clear();
    state_.exit = 0;
    stop_.take_back();
    job_ = std::move(job);
    publish_state();
  }
  woken_.notify_all();
  return {};
}

Result<void> PanelBench::connect(const BenchSetup& setup,
                                 const std::vector<virtual_rig::Fault>& virtual_faults) {
  return begin(
      "connecting",
      [this, setup, virtual_faults] {
        setup_ = setup;
        return do_connect(virtual_faults);
      },
      false);
}

Result<void> PanelBench::disconnect() {
  return begin(
      "disconnecting",
      [this] {
        press_.reset();
        connection_.reset();
        return Result<void>();
      },
      true);
}

Result<void> PanelBench::home() {
  return begin(
      "homing", [this] { return do_home(); }, true);
}

Result<void> PanelBench::sweep(const host::SweepPlan& plan) {
  return begin(
      "sweeping", [this, plan] { return do_sweep(plan); }, true);
}

void PanelBench::stop() {
  stop_.raise();
}

BenchState PanelBench::state() const {
  const std::lock_guard lock(mutex_);
  return state_;
}

// --- The bench's thread -------------------------------------------------------------------------

void PanelBench::run() {
  for (;;) {
    if (const std::optional<Job> job = next_job()) {
      carry_out(*job);
    } else if (press_) {
      look_after_rig();
    }
    std::unique_lock lock(mutex_);
    if (!press_) woken_.wait(lock, [this] { return job_ || quitting_; });
    if (quitting_) return;
  }
}

std::optional<PanelBench::Job> PanelBench::next_job() {
  const std::lock_guard lock(mutex_);
  return std::exchange(job_, std::nullopt);
}

// Until there is something to do, or the rig is lost.
void PanelBench::look_after_rig() {
  press_->set_listener(this);
  const Result<void> done = press_->wait_until([this] {
    const std::lock_guard lock(mutex_);
    return job_.has_value() || quitting_;
  });
  press_->set_listener(nullptr);
  if (done) return;
  if (done.error().code == Errc::stopped_by_operator) {
    // Nothing was moving.
    stop_.take_back();
    return;
  }
  press_.reset();
  connection_.reset();
  end(done);
}

void PanelBench::carry_out(const Job& job) {
  const Result<void> done = job();
  if (!done && press_ && connection_) {
    const Errc code = done.error().code;
    const bool gone = code == Errc::link_lost || code == Errc::link_timeout;
    if (gone || connection_->session().trouble()) {
      // The next session finds out what the rig is about.
      press_.reset();
      connection_.reset();
    }
  }
  end(done);
}

void PanelBench::end(const Result<void>& done) {
  change([&](BenchState& state) {
    state.doing = "nothing";
    state.step.clear();
    state.left_s.reset();
    state.question.clear();
    state.connected = press_.has_value();
    state.homed = press_ && press_->position_is_known();
    if (!state.connected) {
      state.force_N.reset();
      state.travel_mm.reset();
    }
    if (done) return;
    state.message = done.error().message;
    state.exit = static_cast<int>(protocol::exit_code(done.error().code));
  });
}

void PanelBench::renew_press() {
  host::PressSettings settings;
  settings.acceleration_m_s2 = setup_.bench.acceleration_m_s2;
  press_.emplace(connection_->session(), setup_.instruments, settings, stop_);
}

Result<void> PanelBench::do_connect(const std::vector<virtual_rig::Fault>& virtual_faults) {
  press_.reset();
  connection_.reset();
  virtual_rig::VirtualRigOptions rig;
  rig.faults = virtual_faults;
  Result<RigConnection> connection = RigConnection::connect(setup_.rig, rig);
  if (!connection) return connection.error();
  connection_.emplace(std::move(connection).value());
  Result<void> done = connection_->session().open();
  if (done) done = check_scale(setup_);
  if (done) {
    renew_press();
    const Result<uint16_t> old_faults = press_->prepare();
    if (!old_faults) done = old_faults.error();
  }
  if (!done) {
    press_.reset();
    connection_.reset();
    return done;
  }
  change([this](BenchState& state) { state.rig = setup_.rig; });
  return {};
}

Result<void> PanelBench::do_home() {
  renew_press();
  const Result<uint16_t> old_faults = press_->prepare();
  if (!old_faults) return old_faults.error();
  press_->set_listener(this);
  const Result<void> limited =
      press_->set_limits({-300.0, 300.0, 0.0, setup_.bench.travel_max_m, std::nullopt});
  if (!limited) return limited;
  const Result<int32_t> homed = press_->home();
  press_->set_listener(nullptr);
  if (!homed) return homed.error();
  return {};
}

Result<void> PanelBench::do_sweep(host::SweepPlan plan) {
  if (connection_->is_virtual()) {
    connection_->with_virtual_rig(
        [&](virtual_rig::VirtualRig& rig) { rig.pump(plan.metadata.setting); });
  }
  renew_press();
  const Result<uint16_t> old_faults = press_->prepare();
  if (!old_faults) return old_faults.error();
  LookingAfter asking(*press_, person_);
  const Result<host::CheckedOff> checked =
      host::go_through(host::check_list(plan.metadata.fork, plan.metadata.setting), asking, stop_);
  if (asking.trouble()) return *asking.trouble();
  if (!checked) return checked.error();
  host::SweepHooks hooks;
  hooks.observer = this;
  hooks.progress = this;
  points_ = Json::array();
  host::Sweep sweep(*press_, files_, plan, person_, *checked, hooks);
  const Result<host::SweepOutcome> outcome = sweep.run();
  publish_points();
  if (!outcome) return outcome.error();
  change([&](BenchState& state) { state.last_record = outcome->path.filename().string(); });
  return outcome->afterwards ? Result<void>(*outcome->afterwards) : Result<void>();
}

// --- What is told -------------------------------------------------------------------------------

Result<void> PanelBench::take(const host::TimedSample& sample) {
  const auto now = std::chrono::steady_clock::now();
  if (now - told_ < kTell) return {};
  told_ = now;
  const host::Instruments& instruments = press_->instruments();
  change([&](BenchState& state) {
    state.force_N = instruments.force_N(sample.load_counts);
    state.travel_mm = instruments.carriage_m(sample.position_steps) * 1e3;
    state.homed = (sample.flags & protocol::wire::kFlagPositionKnown) != 0;
  });
  return {};
}

void PanelBench::row(const protocol::RecordRow& row) {
  points_.push_back({row.travel_m * 1e3, row.force_N, row.stroke});
  const auto now = std::chrono::steady_clock::now();
  if (now - told_ < kTell) return;
  told_ = now;
  change([&](BenchState& state) {
    state.force_N = row.force_N;
    state.travel_mm = row.travel_m * 1e3;
    state.homed = true;
  });
  publish_points();
}

void PanelBench::stroke_done(const host::StrokeEnd&) {
  publish_points();
}

void PanelBench::show(const host::Progress& progress) {
  change([&](BenchState& state) {
    state.step = progress.phase;
    state.fraction = progress.fraction;
    state.left_s = progress.left_s;
  });
}

void PanelBench::change(const std::function<void(BenchState&)>& change) {
  const std::lock_guard lock(mutex_);
  change(state_);
  publish_state();
}

// Under the lock, so that what is told last is what is so: two threads tell.
void PanelBench::publish_state() {
  publish_(panel::Feed::state, {{"bench", bench_json(state_)}});
}

void PanelBench::publish_points() {
  if (points_.empty()) return;
  publish_(panel::Feed::points, {{"points", std::exchange(points_, Json::array())}});
}

Json bench_json(const BenchState& state) {
  const auto number = [](const std::optional<double>& value) {
    return value ? Json(*value) : Json();
  };
  return {{"connected", state.connected},
          {"homed", state.homed},
          {"rig", state.rig},
          {"doing", state.doing},
          {"step", state.step},
          {"fraction", state.fraction},
          {"left_s", number(state.left_s)},
          {"question", state.question},
          {"force_N", number(state.force_N)},
          {"travel_mm", number(state.travel_mm)},
          {"message", state.message},
          {"exit", state.exit},
          {"last_record", state.last_record}};
}

}  // namespace controller::cli
