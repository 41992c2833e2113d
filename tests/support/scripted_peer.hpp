// A rig that only talks: it answers as a test tells it to, right or wrong, in virtual time.
#pragma once

#include <functional>
#include <map>
#include <vector>

#include "controller/host/memory_link.hpp"
#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "protocol/wire/requests.hpp"

namespace test_support {

namespace wire = protocol::wire;
using controller::host::HostTime;

class ScriptedPeer final : public controller::host::Peer {
 public:
  // What it does with each request; the default is to answer at once and to say yes.
  std::function<void(const wire::Frame&)> on_request = [this](const wire::Frame& frame) {
    answer(frame);
  };
  bool reports_status = true;
  std::vector<wire::Frame> requests;  // without their payloads

  void answer(const wire::Frame& frame, HostTime delay = {},
              wire::Refusal refusal = wire::Refusal::none) {
    if (frame.type == static_cast<uint8_t>(wire::MessageType::hello)) {
      say(hello_reply(), frame.sequence, delay);
      session_ = true;
    } else {
      say(wire::Ack{frame.type, refusal}, frame.sequence, delay);
    }
  }

  template <class Message>
  void say(const Message& message, uint16_t sequence = 0, HostTime delay = {}) {
    const wire::EncodedFrame frame = wire::encode(message, sequence);
    say_bytes({frame.bytes, frame.bytes + frame.size}, delay);
  }
  void say_bytes(const std::vector<uint8_t>& bytes, HostTime delay = {}) {
    std::vector<uint8_t>& due = due_[now + delay];
    due.insert(due.end(), bytes.begin(), bytes.end());
  }

  static wire::HelloReply hello_reply() {
    wire::HelloReply reply;
    reply.protocol_version = wire::kProtocolVersion;
    const char name[] = "TEST";
    std::copy(name, name + 4, reply.rig_id);
    reply.rig_id[7] = 0x2A;
    reply.ticks_per_s = 10000;
    reply.maximum_speed_steps_per_s = 5000;
    reply.maximum_acceleration_steps_per_s2 = 50000;
    reply.nominal_samples_per_s = 80;
    reply.channel_count = 2;
    reply.channels[0] = {wire::Quantity::step_position, 32};
    reply.channels[1] = {wire::Quantity::load_counts, 24};
    return reply;
  }

  wire::Sample sample(uint32_t number) const {
    wire::Sample sample;
    sample.number = number;
    sample.time_us = number * 12500u;
    sample.load_counts = static_cast<int32_t>(number % 7);
    return sample;
  }

  size_t count(wire::MessageType type) const {
    size_t found = 0;
    for (const wire::Frame& frame : requests) found += frame.type == static_cast<uint8_t>(type);
    return found;
  }

  void receive(std::span<const uint8_t> bytes, std::deque<uint8_t>& reply) override {
    for (const uint8_t byte : bytes) {
      if (decoder_.feed(byte) != wire::Verdict::frame) continue;
      wire::Frame frame = decoder_.frame();
      const bool heartbeat = frame.type == static_cast<uint8_t>(wire::MessageType::heartbeat);
      if (!heartbeat) on_request(frame);
      frame.payload = nullptr;
      requests.push_back(frame);
    }
    hand_over(reply);
  }

  HostTime advance(HostTime until, std::deque<uint8_t>& reply) override {
    constexpr std::chrono::milliseconds kStatusPeriod{50};
    HostTime next = until;
    if (session_ && reports_status) next = std::min(next, last_status_ + kStatusPeriod);
    if (!due_.empty()) next = std::min(next, due_.begin()->first);
    now = std::max(now, next);
    if (session_ && reports_status && now - last_status_ >= kStatusPeriod) {
      last_status_ = now;
      status.time_us = static_cast<uint32_t>(now / std::chrono::microseconds(1));
      say(status);
    }
    hand_over(reply);
    return now;
  }

  wire::Status status;
  HostTime now{0};

 private:
  void hand_over(std::deque<uint8_t>& reply) {
    while (!due_.empty() && due_.begin()->first <= now) {
      const std::vector<uint8_t>& bytes = due_.begin()->second;
      reply.insert(reply.end(), bytes.begin(), bytes.end());
      due_.erase(due_.begin());
    }
  }

  wire::Decoder decoder_;
  std::map<HostTime, std::vector<uint8_t>> due_;
  HostTime last_status_{0};
  bool session_ = false;
};

}  // namespace test_support
