#include "tests/benchmarks/line/streaming_rig.hpp"

#include <poll.h>

#include <algorithm>
#include <stdexcept>

#include "protocol/wire/replies.hpp"
#include "protocol/wire/requests.hpp"

namespace tests {

namespace wire = protocol::wire;
using controller::virtual_rig::Pty;

namespace {

constexpr std::chrono::milliseconds kStatusPeriod{50};

Pty open_pty() {
  protocol::Result<Pty> pty = Pty::open();
  if (!pty) throw std::runtime_error(pty.error().message);
  return std::move(*pty);
}

}  // namespace

StreamingRig::StreamingRig(double samples_per_s)
    : pty_(open_pty()), period_(static_cast<int64_t>(1e9 / samples_per_s)) {
  thread_ = std::thread([this] { run(); });
}

StreamingRig::~StreamingRig() {
  stopping_ = true;
  thread_.join();
}

void StreamingRig::overload_soon(std::chrono::microseconds delay) {
  halted_after_ns_ = -1;
  overload_delay_us_ = delay.count();
}

std::optional<std::chrono::nanoseconds> StreamingRig::halted_after() const {
  const int64_t ns = halted_after_ns_;
  if (ns < 0) return std::nullopt;
  return std::chrono::nanoseconds(ns);
}

void StreamingRig::set_echo(bool echo) {
  echo_ = echo;
}

std::chrono::nanoseconds StreamingRig::echo_once() {
  std::promise<std::chrono::nanoseconds> answer;
  std::future<std::chrono::nanoseconds> taken = answer.get_future();
  echo_wanted_ = &answer;
  return taken.get();
}

uint32_t StreamingRig::device_us(Clock::time_point time) const {
  return static_cast<uint32_t>(
      std::chrono::duration_cast<std::chrono::microseconds>(time - epoch_).count());
}

void StreamingRig::run() {
  while (!stopping_) {
    greet_and_agree();
    if (!echo_ && streaming_) {
      say_status();
      say_due_samples();
      overload_if_due();
    }
    flush();
  }
}

// Waits for the host, or until the next sample is due.
void StreamingRig::greet_and_agree() {
  pollfd waited{pty_.fd(), POLLIN, 0};
  const auto until_next =
      streaming_ ? next_sample_ - Clock::now() : std::chrono::nanoseconds(1000000);
  const int64_t wait_ns = std::clamp<int64_t>(until_next.count(), 0, 1000000);
  const timespec patience{0, wait_ns};
  if (ppoll(&waited, 1, &patience, nullptr) <= 0) return;
  std::vector<uint8_t> bytes;
  pty_.read(bytes);
  for (const uint8_t byte : bytes) {
    if (decoder_.feed(byte) == wire::Verdict::frame) take(decoder_.frame());
  }
}

void StreamingRig::take(const wire::Frame& frame) {
  const auto type = static_cast<wire::MessageType>(frame.type);
  if (type == wire::MessageType::heartbeat) return;
  if (type == wire::MessageType::halt) {
    if (overloaded_at_ != Clock::time_point()) {
      halted_after_ns_ = (Clock::now() - overloaded_at_).count();
      overloaded_at_ = {};
    }
    moving_ = false;
    return;
  }
  if (type == wire::MessageType::hello) {
    wire::HelloReply hello;
    hello.protocol_version = wire::kProtocolVersion;
    hello.maximum_speed_steps_per_s = 20000;
    hello.maximum_acceleration_steps_per_s2 = 100000;
    hello.channel_count = 0;
    streaming_ = false;
    return say(hello, frame.sequence);
  }
  wire::Ack ack;
  ack.request_type = frame.type;
  ack.refusal = wire::Refusal::none;
  say(ack, frame.sequence);
  if (type == wire::MessageType::start_sampling && !streaming_) {
    streaming_ = true;
    next_sample_ = next_status_ = Clock::now();
  }
  if (type == wire::MessageType::move) {
    moving_ = true;
    motion_sequence_ = frame.sequence;
    if (overload_delay_us_ >= 0) {
      overload_at_ = Clock::now() + std::chrono::microseconds(overload_delay_us_);
      overload_delay_us_ = -1;
    }
  }
}

void StreamingRig::say_status() {
  if (Clock::now() < next_status_) return;
  next_status_ += kStatusPeriod;
  wire::Status status;
  status.time_us = device_us(Clock::now());
  status.motion = moving_ ? wire::Motion::moving : wire::Motion::idle;
  status.motion_sequence = motion_sequence_;
  say(status);
}

void StreamingRig::say_due_samples() {
  while (Clock::now() >= next_sample_) {
    wire::Sample sample;
    sample.number = ++number_;
    sample.time_us = device_us(next_sample_);  // when it was due, however late it is said
    next_sample_ += period_;
    sample.load_counts = static_cast<int32_t>(number_ % 7);
    sample.flags = wire::kFlagPositionKnown;
    say(sample);
    ++samples_sent_;
  }
}

void StreamingRig::overload_if_due() {
  if (!overload_at_ || Clock::now() < *overload_at_) return;
  overload_at_.reset();
  flush();
  wire::Sample sample;
  sample.number = ++number_;
  sample.time_us = device_us(Clock::now());
  sample.load_counts = 4'000'000;
  sample.flags = wire::kFlagPositionKnown;
  say(sample);
  overloaded_at_ = Clock::now();
  flush();
}

template <class Message>
void StreamingRig::say(const Message& message, uint16_t sequence) {
  const wire::EncodedFrame frame = wire::encode(message, sequence);
  unsent_.insert(unsent_.end(), frame.bytes, frame.bytes + frame.size);
}

void StreamingRig::flush() {
  if (std::promise<std::chrono::nanoseconds>* const answer = echo_wanted_.exchange(nullptr)) {
    const wire::EncodedFrame frame = wire::encode(wire::Sample(), 0);
    unsent_.assign(frame.bytes, frame.bytes + frame.size);
    std::vector<uint8_t> back;
    const Clock::time_point begin = Clock::now();
    pty_.write(unsent_);
    pollfd waited{pty_.fd(), POLLIN, 0};
    while (back.size() < frame.size && !stopping_) {
      if (poll(&waited, 1, 100) > 0) pty_.read(back);
    }
    answer->set_value(Clock::now() - begin);
    return;
  }
  if (!unsent_.empty()) pty_.write(unsent_);
}

}  // namespace tests
