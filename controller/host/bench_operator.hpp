// The person at the bench, as far as the host must wait for them.
#pragma once

#include <chrono>
#include <string>

namespace controller::host {

enum class Answer { pending, done, refused };

class Operator {
 public:
  virtual ~Operator() = default;
  // Says what is to be done while the rig stands still, or what is to be true.
  virtual void ask(const std::string& what) = 0;
  // To what was asked last. Waits for at most `patience`.
  virtual Answer answer(std::chrono::milliseconds patience) = 0;
};

// Says yes to everything: for scripts, and for rigs that hold the axle by themselves.
class AgreeingOperator final : public Operator {
 public:
  void ask(const std::string&) override {}
  Answer answer(std::chrono::milliseconds) override { return Answer::done; }
};

}  // namespace controller::host
