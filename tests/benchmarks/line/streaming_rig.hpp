// A rig that does nothing but speak, in a thread of its own on a pseudo-terminal without a speed:
// it greets, agrees to everything, sends samples as fast as it is told and stamps when it wrote one
// beyond the limit and when it was halted. Also the far end of a bare echo.
#pragma once

#include <atomic>
#include <chrono>
#include <cstdint>
#include <future>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "controller/virtual_rig/pty.hpp"
#include "protocol/wire/decoder.hpp"

namespace tests {

class StreamingRig {
 public:
  using Clock = std::chrono::steady_clock;

  explicit StreamingRig(double samples_per_s);
  ~StreamingRig();

  const std::string& path() const { return pty_.path(); }
  uint64_t samples_sent() const { return samples_sent_; }

  // After the next motion has been asked for, and a little later: one sample far beyond any limit.
  void overload_soon(std::chrono::microseconds delay);
  // From that sample on the line to the halt; empty as long as none came.
  std::optional<std::chrono::nanoseconds> halted_after() const;

  // Instead of a rig: sends one sample's bytes and waits for as many back.
  void set_echo(bool echo);
  std::chrono::nanoseconds echo_once();

 private:
  void run();
  void greet_and_agree();
  void take(const protocol::wire::Frame& frame);
  void say_status();
  void say_due_samples();
  void overload_if_due();
  template <class Message>
  void say(const Message& message, uint16_t sequence = 0);
  void flush();
  uint32_t device_us(Clock::time_point time) const;

  controller::virtual_rig::Pty pty_;
  std::chrono::nanoseconds period_;
  protocol::wire::Decoder decoder_;
  std::vector<uint8_t> unsent_;
  Clock::time_point epoch_ = Clock::now();
  Clock::time_point next_sample_;
  Clock::time_point next_status_;
  uint32_t number_ = 0;
  uint16_t motion_sequence_ = 0;
  bool moving_ = false;
  bool streaming_ = false;
  std::optional<Clock::time_point> overload_at_;
  Clock::time_point overloaded_at_;
  std::atomic<int64_t> overload_delay_us_{-1};
  std::atomic<int64_t> halted_after_ns_{-1};
  std::atomic<uint64_t> samples_sent_{0};
  std::atomic<bool> echo_{false};
  std::atomic<std::promise<std::chrono::nanoseconds>*> echo_wanted_{nullptr};
  std::atomic<bool> stopping_{false};
  std::thread thread_;
};

}  // namespace tests
