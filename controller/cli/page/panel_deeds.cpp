// What the bench does in its own thread: connect, home, jog, sweep, converse.
#include <sstream>

#include "controller/cli/bench/hand_limits.hpp"
#include "controller/cli/commands.hpp"
#include "controller/cli/page/panel_bench.hpp"
#include "controller/cli/page/panel_desk.hpp"

namespace controller::cli {

using protocol::Errc;
using protocol::Error;
using protocol::Json;
using protocol::Result;

namespace {

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

// A press of its own for each deed, with its old faults cleared: what a stop left behind is gone.
Result<void> PanelBench::ready_press() {
  host::PressSettings settings;
  settings.acceleration_m_s2 = setup_.bench.acceleration_m_s2;
  press_.emplace(connection_->session(), setup_.instruments, settings, stop_);
  const Result<uint16_t> old_faults = press_->prepare();
  if (!old_faults) return old_faults.error();
  return {};
}

void PanelBench::forget_rig() {
  press_.reset();
  connection_.reset();
}

Result<void> PanelBench::do_connect(const std::vector<virtual_rig::Fault>& virtual_faults) {
  forget_rig();
  virtual_rig::VirtualRigOptions rig;
  rig.faults = virtual_faults;
  Result<RigConnection> connection = RigConnection::connect(setup_.rig, rig);
  if (!connection) return connection.error();
  connection_.emplace(std::move(connection).value());
  Result<void> done = connection_->session().open();
  if (done) done = check_scale(setup_);
  if (done) done = ready_press();
  if (done) done = press_->set_limits(hand_limits(setup_));
  if (!done) {
    forget_rig();
    return done;
  }
  change([this](BenchState& state) {
    state.rig = setup_.rig;
    state.notes = setup_.warnings;
  });
  return {};
}

Result<void> PanelBench::do_home() {
  if (const Result<void> ready = ready_press(); !ready) return ready;
  const Result<void> limited = press_->set_limits(hand_limits(setup_));
  if (!limited) return limited;
  press_->set_listener(this);
  const Result<int32_t> homed = press_->home();
  press_->set_listener(nullptr);
  if (!homed) return homed.error();
  return {};
}

// In the short ways that the rig grants, one after the other. Letting go is how it ends. A virtual
// rig's time runs as fast as it can; under a person's hand it keeps to ours.
Result<void> PanelBench::do_jog(int toward) {
  if (const Result<void> ready = ready_press(); !ready) return ready;
  const Result<void> limited = press_->set_limits(hand_limits(setup_));
  if (!limited) return limited;
  press_->set_listener(this);
  Result<void> moved;
  constexpr std::chrono::milliseconds kPiece{50};
  constexpr int32_t kPieceSteps = protocol::wire::kJogSpeedMaxStepsPerS * kPiece.count() / 1000;
  const bool is_virtual = connection_->is_virtual();
  auto due = PageStop::Clock::now();
  while (moved && !stop_.is_let_go()) {
    moved = press_->jog(toward * (is_virtual ? kPieceSteps : protocol::wire::kJogStepsMax));
    due += kPiece;
    if (moved && is_virtual) {
      moved = press_->wait_until([&] { return PageStop::Clock::now() >= due; });
    }
  }
  press_->set_listener(nullptr);
  if (moved || stop_.is_raised() || moved.error().code != Errc::stopped_by_operator) return moved;
  return {};
}

Result<void> PanelBench::do_sweep(host::SweepPlan plan) {
  if (connection_->is_virtual()) {
    connection_->with_virtual_rig(
        [&](virtual_rig::VirtualRig& rig) { rig.pump(plan.metadata.setting); });
  }
  if (const Result<void> ready = ready_press(); !ready) return ready;
  LookingAfter asking(*press_, person_);
  const Result<host::CheckedOff> checked =
      host::go_through(host::check_list(plan.metadata.fork, plan.metadata.setting), asking, stop_);
  if (asking.trouble()) return *asking.trouble();
  if (!checked) return checked.error();
  host::SweepHooks hooks;
  hooks.observer = this;
  hooks.progress = this;
  points_ = Json::array();
  loop_.clear();
  RunningFit running(
      metadata_for_fit(plan, setup_), {strokes_of(plan), {}, false},
      [this](const std::string& line) { change([&](BenchState& state) { state.known = line; }); });
  running_fit_ = &running;
  host::Sweep sweep(*press_, files_, plan, person_, *checked, hooks);
  const Result<host::SweepOutcome> outcome = sweep.run();
  running_fit_ = nullptr;
  publish_points();
  if (!outcome) return outcome.error();
  change([&](BenchState& state) { state.last_record = outcome->path.filename().string(); });
  return outcome->afterwards ? Result<void>(*outcome->afterwards) : Result<void>();
}

Result<void> PanelBench::do_converse(const std::vector<std::string>& words) {
  const bool was_connected = press_.has_value();
  forget_rig();
  change([](BenchState& state) { state.connected = state.homed = false; });
  talk_.begin();
  std::ostream printed(talk_.printed());
  Console console{printed, printed};
  console.correspondent = &talk_;
  std::vector<const char*> line{"springwright"};
  for (const std::string& word : words) line.push_back(word.c_str());
  const int exit = run_command_line(static_cast<int>(line.size()), line.data(), console);
  talk_.end();
  change([&](BenchState& state) {
    state.exit = exit;
    if (exit != 0) state.message = without_program_name(talk_.last_line());
  });
  // Nothing moves by that, and it is not at home any more.
  return was_connected && !stop_.is_raised() ? do_connect({}) : Result<void>();
}

}  // namespace controller::cli
