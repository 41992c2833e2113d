// A rig in virtual time behind a pseudo-terminal, so many of its seconds in one of ours: what a
// host program opens like any rig. Works for whatever has VirtualRig's calls.
#pragma once

#include <poll.h>
#include <unistd.h>

#include <chrono>
#include <functional>
#include <vector>

#include "controller/virtual_rig/pty.hpp"

namespace test_support {

template <class Rig>
class PtyBridge {
 public:
  using OnOutput = std::function<void(const std::vector<uint8_t>& bytes)>;

  // `pace` rig seconds a second. What is passed in must outlive the bridge; `on_output` sees every
  // byte that the rig sends, as it goes onto the line.
  PtyBridge(Rig& rig, controller::virtual_rig::Pty& pty, int pace = 1, OnOutput on_output = {})
      : rig_(rig), pty_(pty), pace_(pace), on_output_(std::move(on_output)) {}

  // Until standard input is closed.
  void run() {
    pollfd waited[] = {{STDIN_FILENO, POLLIN, 0}, {pty_.fd(), POLLIN, 0}};
    for (;;) {
      poll(waited, 2, 1);
      char ignored = 0;
      if ((waited[0].revents & (POLLIN | POLLHUP)) != 0 && read(STDIN_FILENO, &ignored, 1) <= 0) {
        return;
      }
      std::vector<uint8_t> bytes;
      if (pty_.read(bytes) > 0) rig_.receive(bytes.data(), bytes.size());
      follow_clock();
      pty_.write(unread_);
    }
  }

 private:
  using Clock = std::chrono::steady_clock;
  // Further behind than this the computer is too slow, and time is counted anew.
  static constexpr int64_t kLate_ms = 500;

  void follow_clock() {
    const auto since = std::chrono::duration_cast<std::chrono::milliseconds>(Clock::now() - epoch_);
    const int64_t due_ms = since.count() * pace_;
    if (due_ms - done_ms_ > kLate_ms) done_ms_ = due_ms - kLate_ms;
    for (; done_ms_ < due_ms; ++done_ms_) {
      rig_.advance_ms();
      const std::vector<uint8_t> fresh = rig_.take_output();
      if (on_output_) on_output_(fresh);
      unread_.insert(unread_.end(), fresh.begin(), fresh.end());
    }
  }

  Rig& rig_;
  controller::virtual_rig::Pty& pty_;
  int pace_;
  OnOutput on_output_;
  std::vector<uint8_t> unread_;
  Clock::time_point epoch_ = Clock::now();
  int64_t done_ms_ = 0;
};

}  // namespace test_support
