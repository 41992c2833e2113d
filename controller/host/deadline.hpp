// A deadline for one operation after the other, on one timer.
//
// A timer that has expired cannot be called back: its handler waits in the queue, and by the time
// it runs the operation that it was for may be over and the next one begun. Each arming therefore
// has a generation number, and a handler of an older generation does nothing.
//
// One thread. The io_context must not run once the deadline is gone.
#pragma once

#include <cstdint>
#include <functional>

#include "controller/host/asio.hpp"

namespace controller::host {

class Deadline {
 public:
  Deadline(boost::asio::io_context& context, std::function<void()> on_expiry);

  // Ends what was armed before, and calls on_expiry once `at` has come.
  void arm(std::chrono::steady_clock::time_point at);
  void disarm();

 private:
  std::function<void()> on_expiry_;
  boost::asio::steady_timer timer_;
  uint64_t generation_ = 0;
};

}  // namespace controller::host
