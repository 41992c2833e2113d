// The operator at the page: questions that the page shows, answers and stops that it sends. Asked
// from the bench's thread, answered from the server's.
#pragma once

#include <atomic>
#include <chrono>
#include <functional>
#include <mutex>
#include <string>

#include "controller/host/bench_operator.hpp"
#include "controller/host/stop_source.hpp"

namespace controller::cli {

// A stop that the next thing to be done takes back, which a key's never is.
class PageStop final : public host::StopSource {
 public:
  using Clock = std::chrono::steady_clock;

  host::StopLevel level() override {
    const host::StopLevel raised = level_;
    if (raised != host::StopLevel::none || !is_let_go()) return raised;
    return host::StopLevel::stop;
  }
  // Once in order, once more at once.
  void raise() {
    level_ = level_ == host::StopLevel::none ? host::StopLevel::stop : host::StopLevel::halt;
  }
  bool is_raised() const { return level_ != host::StopLevel::none; }
  void take_back() {
    level_ = host::StopLevel::none;
    held_until_ = Clock::time_point::max();
  }

  // From now on it stops by itself where it is not held anew before then.
  void hold_until(Clock::time_point latest) { held_until_ = latest; }
  bool is_let_go() const { return Clock::now() > held_until_.load(); }

 private:
  std::atomic<host::StopLevel> level_{host::StopLevel::none};
  std::atomic<Clock::time_point> held_until_{Clock::time_point::max()};
};

class PageOperator final : public host::Operator {
 public:
  // show: the question and its number, or an empty one once it is answered.
  using Show = std::function<void(const std::string& question, int number)>;
  explicit PageOperator(Show show) : show_(std::move(show)) {}

  void ask(const std::string& what) override {
    int number = 0;
    {
      const std::lock_guard lock(mutex_);
      said_ = host::Answer::pending;
      number = ++number_;
    }
    show_(what, number);
  }
  host::Answer answer(std::chrono::milliseconds) override {
    host::Answer said = host::Answer::pending;
    {
      const std::lock_guard lock(mutex_);
      said = said_;
    }
    if (said != host::Answer::pending) show_("", 0);
    return said;
  }
  // RETURNS false where the question with that number no longer stands: a late answer must not
  // count for the next one.
  bool say(int number, bool yes) {
    const std::lock_guard lock(mutex_);
    if (number != number_ || said_ != host::Answer::pending) return false;
    said_ = yes ? host::Answer::done : host::Answer::refused;
    return true;
  }

 private:
  Show show_;
  std::mutex mutex_;
  int number_ = 0;
  host::Answer said_ = host::Answer::refused;  // nothing was asked yet
};

}  // namespace controller::cli
