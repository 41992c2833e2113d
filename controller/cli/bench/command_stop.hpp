// What stops a command that moves the rig: Ctrl-C, or whoever stands in for the terminal.
#pragma once

#include <optional>

#include "controller/cli/bench/correspondent.hpp"
#include "controller/cli/commands.hpp"
#include "controller/host/interrupt_key.hpp"

namespace controller::cli {

class CommandStop final : public host::StopSource {
 public:
  explicit CommandStop(Console& console) : correspondent_(console.correspondent) {
    if (correspondent_ == nullptr) key_.emplace();
  }
  host::StopLevel level() override { return key_ ? key_->level() : correspondent_->stop().level(); }

 private:
  Correspondent* correspondent_;
  std::optional<host::InterruptKey> key_;
};

}  // namespace controller::cli
