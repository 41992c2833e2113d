// Lines from the keyboard while the rig is being looked after: nothing here waits.
//
// At a terminal the keys are taken one by one, so that a live reading can stand on the line that is
// typed on. Ctrl-C stays a signal. From a pipe whole lines are read and nothing live is shown.
// Whoever stands in for the terminal writes whole lines and is shown the reading.
#pragma once

#include <termios.h>

#include <optional>
#include <string>

#include "controller/cli/commands.hpp"

namespace controller::cli {

class GuidedKeyboard {
 public:
  explicit GuidedKeyboard(Console& console);
  ~GuidedKeyboard();
  GuidedKeyboard(const GuidedKeyboard&) = delete;
  GuidedKeyboard& operator=(const GuidedKeyboard&) = delete;

  // A line once it is whole; to be called often.
  std::optional<std::string> poll_line();
  // No line will come any more.
  bool is_gone() const { return is_gone_; }

  bool is_live() const { return is_live_ || console_.correspondent != nullptr; }
  // What stands before the line that is typed.
  void show(const std::string& status);
  // Takes that line away, before something else is printed.
  void clear();

 private:
  void take_key(char key);

  Console& console_;
  bool is_live_ = false;  // at a terminal, key by key
  bool is_gone_ = false;
  termios before_{};
  std::string typed_;
  std::string status_;
  std::optional<std::string> line_;
};

}  // namespace controller::cli
