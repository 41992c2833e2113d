// The operator at a terminal: questions on the error stream, answers from the keyboard; or whoever
// stands in for it.
#pragma once

#include "controller/cli/commands.hpp"
#include "controller/host/bench_operator.hpp"

namespace controller::cli {

class TerminalOperator final : public host::Operator {
 public:
  explicit TerminalOperator(Console& console) : console_(console) {}

  void ask(const std::string& what) override;
  host::Answer answer(std::chrono::milliseconds patience) override;

  // Whether there is anybody to ask.
  static bool is_present(const Console& console);

 private:
  Console& console_;
  std::string line_;
};

}  // namespace controller::cli
