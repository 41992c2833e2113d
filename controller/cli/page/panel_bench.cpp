#include "controller/cli/page/panel_bench.hpp"

#include <chrono>

namespace controller::cli {

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;

namespace {

// How often a page is told what force and place are; faster than anyone reads.
constexpr std::chrono::milliseconds kTell{100};
// How often it gets points to draw: a loop that grows in fewer steps is seen to jerk.
constexpr std::chrono::milliseconds kDraw{40};

}  // namespace

PanelBench::PanelBench(Publish publish)
    : publish_(std::move(publish)),
      person_([this](const std::string& question, int number) {
        change([&](BenchState& state) {
          state.question = question;
          state.question_number = number;
        });
      }),
      talk_(person_, stop_, [this](const Json& told) { publish_(panel::Feed::state, told); }) {
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
    state_.known.clear();
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
        forget_rig();
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

Result<void> PanelBench::jog(int toward) {
  const Result<void> begun = begin(
      "jogging", [this, toward] { return do_jog(toward); }, true);
  if (begun) stop_.hold_until(PageStop::Clock::now() + kHold);
  return begun;
}

Result<void> PanelBench::hold() {
  if (state().doing != "jogging" || stop_.is_let_go()) {
    return Error{Errc::usage, "The carriage is not held any more; press again."};
  }
  stop_.hold_until(PageStop::Clock::now() + kHold);
  return {};
}

void PanelBench::let_go() {
  if (state().doing == "jogging") stop_.hold_until(PageStop::Clock::time_point::min());
}

Result<void> PanelBench::converse(std::vector<std::string> words) {
  return begin(
      "calibrating", [this, words = std::move(words)] { return do_converse(words); }, false);
}

Result<void> PanelBench::answer(int question, bool yes) {
  if (person_.say(question, yes)) return {};
  return Error{Errc::usage, "That question no longer stands."};
}

Result<void> PanelBench::write(const std::string& line) {
  if (talk_.write(line)) return {};
  return Error{Errc::usage, "The program asks for nothing now; wait for it."};
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
  // With a guard that begins anew: while a stop was waited for it saw no sample, and it still kept
  // to the deed's limits. A fault that stays, such as a pressed emergency stop, is none of waiting.
  (void)ready_press();
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
  forget_rig();
  end(done);
}

void PanelBench::carry_out(const Job& job) {
  const Result<void> done = job();
  if (!done && press_ && connection_) {
    const Errc code = done.error().code;
    const bool gone = code == Errc::link_lost || code == Errc::link_timeout;
    if (gone || connection_->session().trouble()) {
      // The next session finds out what the rig is about.
      forget_rig();
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
    state.question_number = 0;
    state.connected = press_.has_value();
    state.homed = press_ && press_->position_is_known();
    if (!state.connected) {
      state.force_N.reset();
      state.travel_mm.reset();
      state.notes.clear();
    }
    if (done) return;
    state.message = done.error().message;
    state.exit = static_cast<int>(protocol::exit_code(done.error().code));
  });
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
  if (running_fit_ != nullptr) running_fit_->row(row);
  loop_.add(row);
  points_.push_back(ThinnedLoop::point(row));
  const auto now = std::chrono::steady_clock::now();
  if (now - drawn_ >= kDraw) {
    drawn_ = now;
    publish_points();
  }
  if (now - told_ < kTell) return;
  told_ = now;
  change([&](BenchState& state) {
    state.force_N = row.force_N;
    state.travel_mm = row.travel_m * 1e3;
    state.homed = true;
  });
}

void PanelBench::stroke_done(const host::StrokeEnd& end) {
  if (running_fit_ != nullptr) running_fit_->stroke_done(end);
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
          {"question_number", state.question_number},
          {"known", state.known},
          {"notes", state.notes},
          {"force_N", number(state.force_N)},
          {"travel_mm", number(state.travel_mm)},
          {"message", state.message},
          {"exit", state.exit},
          {"last_record", state.last_record}};
}

}  // namespace controller::cli
