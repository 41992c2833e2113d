// The bench behind the page: one rig, one thread that looks after it, one thing at a time.
//
// The thread keeps the rig's session alive whether something is done or not, so that force and
// place are always shown. What the page asks for is handed to it and goes on there; how far it is
// shows in the state that is published. Stop may come from any thread.
#pragma once

#include <condition_variable>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include "controller/cli/bench/rig_connection.hpp"
#include "controller/cli/bench/running_fit.hpp"
#include "controller/cli/bench/sweep_plan.hpp"
#include "controller/cli/page/page_talk.hpp"
#include "controller/cli/page/thinned_loop.hpp"
#include "controller/panel/outbox.hpp"

namespace controller::cli {

// What is shown of the bench.
struct BenchState {
  bool connected = false;
  bool homed = false;
  std::string rig;
  std::string doing = "nothing";  // "connecting", "homing", "jogging", "sweeping", "calibrating"
  std::string step;               // "measuring, cycle 2 of 3"
  double fraction = 0.0;
  std::optional<double> left_s;
  std::string question;  // what the operator is to do or to say
  int question_number = 0;
  std::string known;               // what the running fit can tell by now
  std::vector<std::string> notes;  // of the certificates in use
  std::optional<double> force_N;
  std::optional<double> travel_mm;  // of the carriage while no travel zero is known
  std::string message;              // how the last thing ended
  int exit = 0;                     // with which exit code of the program
  std::string last_record;
};

class PanelBench final : private host::SampleListener,
                         private host::SweepObserver,
                         private host::ProgressSink {
 public:
  using Publish = std::function<void(panel::Feed feed, const protocol::Json& told)>;

  explicit PanelBench(Publish publish);
  ~PanelBench() override;
  PanelBench(const PanelBench&) = delete;
  PanelBench& operator=(const PanelBench&) = delete;

  // Each begins it and returns. ERRORS: usage where something is being done, or cannot be yet.
  protocol::Result<void> connect(const BenchSetup& setup,
                                 const std::vector<virtual_rig::Fault>& virtual_faults);
  protocol::Result<void> disconnect();
  protocol::Result<void> home();
  protocol::Result<void> sweep(const host::SweepPlan& plan);
  // By hand, for as long as hold() is called again before kHold has passed. toward: +1 compression,
  // -1 extension.
  protocol::Result<void> jog(int toward);
  protocol::Result<void> hold();
  void let_go();
  // A command that converses. It connects to the rig by itself; afterwards the page's own
  // connection comes back.
  protocol::Result<void> converse(std::vector<std::string> words);
  // ERRORS: usage where nothing is asked.
  protocol::Result<void> write(const std::string& line);
  // To the question with that number. ERRORS: usage where it no longer stands.
  protocol::Result<void> answer(int question, bool yes);
  // Once in order, twice at once.
  void stop();

  BenchState state() const;
  protocol::Json talk() const { return talk_.told(); }
  protocol::Json loop() const { return loop_.points(); }

  static constexpr std::chrono::milliseconds kHold{300};

 private:
  using Job = std::function<protocol::Result<void>()>;

  protocol::Result<void> begin(const std::string& doing, Job job, bool wants_rig);
  void run();
  std::optional<Job> next_job();
  void look_after_rig();
  void carry_out(const Job& job);
  void end(const protocol::Result<void>& done);

  protocol::Result<void> do_connect(const std::vector<virtual_rig::Fault>& virtual_faults);
  protocol::Result<void> do_home();
  protocol::Result<void> do_jog(int toward);
  protocol::Result<void> do_sweep(host::SweepPlan plan);
  protocol::Result<void> do_converse(const std::vector<std::string>& words);
  protocol::Result<void> ready_press();
  void forget_rig();

  protocol::Result<void> take(const host::TimedSample& sample) override;
  void row(const protocol::RecordRow& row) override;
  void stroke_done(const host::StrokeEnd& end) override;
  void show(const host::Progress& progress) override;

  void change(const std::function<void(BenchState&)>& change);
  void publish_state();  // REQUIRES: the lock
  void publish_points();

  Publish publish_;
  PageStop stop_;
  PageOperator person_;
  PageTalk talk_;
  ThinnedLoop loop_;
  protocol::DiskFileSystem files_;

  // Of the bench's thread alone.
  BenchSetup setup_;
  std::optional<RigConnection> connection_;
  std::optional<host::Press> press_;
  RunningFit* running_fit_ = nullptr;  // of the sweep that runs
  protocol::Json points_ = protocol::Json::array();
  std::chrono::steady_clock::time_point told_{};
  std::chrono::steady_clock::time_point drawn_{};

  mutable std::mutex mutex_;
  std::condition_variable woken_;
  BenchState state_;
  std::optional<Job> job_;
  bool quitting_ = false;
  std::thread thread_;
};

protocol::Json bench_json(const BenchState& state);

}  // namespace controller::cli
