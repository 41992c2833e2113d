#include "controller/virtual_rig/serve.hpp"

#include <fmt/format.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <chrono>
#include <future>
#include <mutex>
#include <thread>

#include "controller/virtual_rig/pty.hpp"

namespace controller::virtual_rig {
namespace {

using Clock = std::chrono::steady_clock;

// Between two looks at what the host has sent.
constexpr int kChunk_ms = 50;
// What a call without a session is good for: an answer to hello and a few conversions.
constexpr int kCredit_ms = 200;
// Standing still, virtual against real time.
constexpr int64_t kIdlePace = 100;
// So much unread output holds the rig's time.
constexpr size_t kUnreadMax_bytes = 2048;
// In real time a host that does not read loses bytes, as on a real line.
constexpr size_t kOverrun_bytes = 1 << 16;
// Further behind than this, real time is given up and counted anew.
constexpr int64_t kLate_ms = 1000;

class Server : public ServedRig {
 public:
  Server(const PlantFile& file, const ServeOptions& options, Pty pty, FileDescriptor wake)
      : pace_(options.pace),
        rig_(file, options.rig),
        pty_(std::move(pty)),
        path_(pty_.path()),
        wake_(std::move(wake)),
        epoch_(Clock::now()) {
    // Signals are for the program's own thread; a thread inherits the mask.
    sigset_t all;
    sigset_t before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    thread_ = std::thread([this] { run(); });
    pthread_sigmask(SIG_SETMASK, &before, nullptr);
  }

  ~Server() override {
    stopping_ = true;
    wake();
    thread_.join();
  }

  const std::string& path() const override { return path_; }

  void with_rig(const std::function<void(VirtualRig&)>& action) override {
    std::promise<void> done;
    {
      const std::lock_guard lock(mutex_);
      jobs_.push_back([&] {
        action(rig_);
        done.set_value();
      });
    }
    wake();
    done.get_future().wait();
  }

 private:
  void wake() {
    const uint64_t one = 1;
    // It can only fail when the counter is full, and then the thread is awake anyway.
    [[maybe_unused]] const ssize_t written = ::write(wake_.get(), &one, sizeof one);
  }

  void run() {
    while (!stopping_) {
      do_jobs();
      take_input();
      const int wait_ms = pace_ == Pace::real_time ? follow_clock() : follow_host();
      give_output();
      wait(wait_ms);
    }
  }

  void do_jobs() {
    std::vector<std::function<void()>> jobs;
    {
      const std::lock_guard lock(mutex_);
      jobs.swap(jobs_);
    }
    for (const auto& job : jobs) job();
  }

  void take_input() {
    input_.clear();
    if (pty_.read(input_) == 0) return;
    rig_.receive(input_.data(), input_.size());
    credit_ms_ = kCredit_ms;
  }

  void give_output() {
    const std::vector<uint8_t> fresh = rig_.take_output();
    if (rig_.unplugged() && pty_.is_open()) pty_.unplug();
    if (!pty_.is_open()) {
      unread_.clear();
      return;
    }
    if (pace_ == Pace::accelerated || unread_.size() < kOverrun_bytes) {
      unread_.insert(unread_.end(), fresh.begin(), fresh.end());
    }
    pty_.write(unread_);
  }

  // Both RETURN how long to wait for the host: -1 until it comes, 0 not at all.
  int follow_clock() {
    const int64_t real_ms = milliseconds_since(epoch_);
    int64_t behind_ms = real_ms - done_ms_;
    if (behind_ms > kLate_ms) {
      done_ms_ = real_ms - kLate_ms;
      behind_ms = kLate_ms;
    }
    for (; behind_ms > 0; --behind_ms) advance();
    return 1;
  }

  int follow_host() {
    for (int i = 0; i < kChunk_ms; ++i) {
      if (!may_advance() && !(rig_.read_waiting() && may_advance())) return -1;
      if (unread_.size() + rig_.output_size() > kUnreadMax_bytes) return 0;
      if (!idle_allows()) return 1;
      advance();
    }
    return 0;
  }

  void advance() {
    rig_.advance_ms();
    ++done_ms_;
    if (!rig_.in_session() && credit_ms_ > 0) --credit_ms_;
    if (rig_.rig().motion() != protocol::wire::Motion::idle) idle_ = false;
  }

  bool may_advance() {
    if (!rig_.in_session()) return credit_ms_ > 0;
    // With the cable pulled no heartbeat will ever come: the rig finds that out for itself.
    return rig_.unplugged() || rig_.heartbeat_allows_ms();
  }

  bool idle_allows() {
    if (rig_.rig().motion() != protocol::wire::Motion::idle) return true;
    if (!idle_) {
      idle_ = true;
      idle_since_ = Clock::now();
      idle_since_ms_ = done_ms_;
    }
    // Ahead of the first millisecond's worth there is always some room.
    return done_ms_ - idle_since_ms_ <= kIdlePace * (milliseconds_since(idle_since_) + 1);
  }

  void wait(int timeout_ms) {
    std::array<pollfd, 2> files{{{wake_.get(), POLLIN, 0}, {pty_.fd(), POLLIN, 0}}};
    if (!unread_.empty()) {
      files[1].events |= POLLOUT;
      // The terminal is full: in lock-step nothing goes on until the host reads.
      if (pace_ == Pace::accelerated) timeout_ms = -1;
    }
    const nfds_t count = pty_.is_open() ? 2 : 1;
    if (::poll(files.data(), count, timeout_ms) <= 0) return;
    uint64_t calls = 0;
    if ((files[0].revents & POLLIN) != 0) {
      [[maybe_unused]] const ssize_t got = ::read(wake_.get(), &calls, sizeof calls);
    }
  }

  static int64_t milliseconds_since(Clock::time_point start) {
    return std::chrono::duration_cast<std::chrono::milliseconds>(Clock::now() - start).count();
  }

  Pace pace_;
  VirtualRig rig_;
  Pty pty_;
  std::string path_;
  FileDescriptor wake_;
  Clock::time_point epoch_;
  int64_t done_ms_ = 0;
  int64_t credit_ms_ = kCredit_ms;
  bool idle_ = false;
  Clock::time_point idle_since_;
  int64_t idle_since_ms_ = 0;
  std::vector<uint8_t> input_;
  std::vector<uint8_t> unread_;

  std::mutex mutex_;
  std::vector<std::function<void()>> jobs_;
  std::atomic<bool> stopping_ = false;
  std::thread thread_;
};

}  // namespace

protocol::Result<std::unique_ptr<ServedRig>> serve(const std::string& plant_file,
                                                   const ServeOptions& options) {
  const protocol::Result<PlantFile> file = load_plant(plant_file);
  if (!file) return file.error();
  const double left_m3 = file->fork.positive.volume_m3 -
                         options.rig.setting.spacers * file->fork.spacer_volume_m3 -
                         file->fork.piston_area_m2() * file->fork.travel_m;
  if (left_m3 <= 0.0 || options.rig.setting.spacers < 0) {
    return protocol::Error{
        protocol::Errc::input_out_of_range,
        fmt::format("{}: {} spacers do not fit into the virtual fork; use fewer.", plant_file,
                    options.rig.setting.spacers)};
  }
  protocol::Result<Pty> pty = Pty::open();
  if (!pty) return pty.error();
  FileDescriptor wake(eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK));
  if (!wake.is_open()) {
    return protocol::Error{protocol::Errc::bug, "no event descriptor; too many files are open."};
  }
  std::unique_ptr<ServedRig> served =
      std::make_unique<Server>(*file, options, std::move(*pty), std::move(wake));
  return served;
}

}  // namespace controller::virtual_rig
