// Ctrl-C as a stop: the first one stops in order, the second halts. SIGTERM counts as the first.
//
// While it lives the process is not ended by these signals. At most one at a time.
#pragma once

#include <memory>

#include "controller/host/stop_source.hpp"

namespace controller::host {

class InterruptKey final : public StopSource {
 public:
  InterruptKey();
  ~InterruptKey() override;
  StopLevel level() override;
  // Returns once a signal has come.
  void wait();

 private:
  struct Signals;
  std::unique_ptr<Signals> signals_;
};

}  // namespace controller::host
