// Whoever stands in for the terminal of a command that converses with a person: the live page.
//
// A console that has one asks it instead of the keyboard, and stops when it says so.
#pragma once

#include <optional>
#include <string>

#include "controller/host/bench_operator.hpp"
#include "controller/host/stop_source.hpp"

namespace controller::cli {

class Correspondent : public host::Operator {
 public:
  // A line that they wrote, if there is one. Does not wait.
  virtual std::optional<std::string> poll_line() = 0;
  // What stands beside the line that they write, such as a live reading.
  virtual void show_status(const std::string& status) = 0;
  virtual host::StopSource& stop() = 0;
};

}  // namespace controller::cli
