// The operator at the page: questions that the page shows, answers and stops that it sends. Asked
// from the bench's thread, answered from the server's.
#pragma once

#include <atomic>
#include <functional>
#include <string>

#include "controller/host/bench_operator.hpp"
#include "controller/host/stop_source.hpp"

namespace controller::cli {

// A stop that the next thing to be done takes back, which a key's never is.
class PageStop final : public host::StopSource {
 public:
  host::StopLevel level() override { return level_; }
  // Once in order, once more at once.
  void raise() {
    level_ = level_ == host::StopLevel::none ? host::StopLevel::stop : host::StopLevel::halt;
  }
  void take_back() { level_ = host::StopLevel::none; }

 private:
  std::atomic<host::StopLevel> level_{host::StopLevel::none};
};

class PageOperator final : public host::Operator {
 public:
  // show: the question, or nothing once it is answered.
  explicit PageOperator(std::function<void(const std::string&)> show) : show_(std::move(show)) {}

  void ask(const std::string& what) override {
    said_ = host::Answer::pending;
    show_(what);
  }
  host::Answer answer(std::chrono::milliseconds) override {
    const host::Answer said = said_;
    if (said != host::Answer::pending) show_("");
    return said;
  }
  void say(bool yes) { said_ = yes ? host::Answer::done : host::Answer::refused; }

 private:
  std::function<void(const std::string&)> show_;
  std::atomic<host::Answer> said_{host::Answer::pending};
};

}  // namespace controller::cli
