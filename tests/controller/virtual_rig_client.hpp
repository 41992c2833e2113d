// The least host there can be, for tests of the virtual rig: sends requests into its queue, moves
// its time, keeps what comes back. No clock, no thread.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "controller/virtual_rig/virtual_rig.hpp"
#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "protocol/wire/requests.hpp"

namespace controller::virtual_rig {

inline PlantFile shipped_fork(const std::string& name) {
  const auto file =
      load_plant(SPRINGWRIGHT_SOURCE_DIR "/controller/virtual_rig/forks/" + name + ".toml");
  ENSURE(file.has_value());
  return *file;
}

inline VirtualRigOptions pumped_options() {
  VirtualRigOptions options;
  options.setting.pressure_gauge_Pa = 558475.0;
  options.setting.spacers = 1;
  return options;
}

// Of the virtual rig, or of another that offers advance_ms(), receive() and take_output().
template <class SomeRig>
class BasicRigClient {
 public:
  explicit BasicRigClient(SomeRig& rig) : rig_(rig) {}

  template <class Request>
  uint16_t send(const Request& request) {
    const protocol::wire::EncodedFrame frame = protocol::wire::encode(request, ++sequence_);
    rig_.receive(frame.bytes, frame.size);
    return sequence_;
  }

  // Sends and waits for the answer. RETURNS the refusal; empty where no answer came within 100 ms.
  template <class Request>
  std::optional<protocol::wire::Refusal> ask(const Request& request) {
    const uint16_t sequence = send(request);
    refusal_.reset();
    awaited_ = sequence;
    run_until([&] { return refusal_.has_value(); }, 100);
    return refusal_;
  }

  // A session with wide limits, sampling.
  void open(uint16_t heartbeat_timeout_ms = 1000) {
    send(protocol::wire::Hello{protocol::wire::kProtocolVersion});
    run_until([&] { return hello.has_value(); }, 100);
    // The first conversion after a reset must be there before a motion.
    run_ms(50);
    ENSURE(ask(protocol::wire::SetLimits{-400000, 4000000, -100000, 100000,
                                         heartbeat_timeout_ms}) == protocol::wire::Refusal::none);
    ENSURE(ask(protocol::wire::StartSampling{}) == protocol::wire::Refusal::none);
  }

  // Sends a motion and runs until its event. RETURNS the event; empty where it was refused or did
  // not end within two minutes.
  template <class Request>
  std::optional<protocol::wire::Event> carry_out(const Request& request) {
    events.clear();
    if (ask(request) != protocol::wire::Refusal::none) return std::nullopt;
    run_until([&] { return !events.empty(); }, 120000);
    if (events.empty()) return std::nullopt;
    return events.back();
  }

  std::optional<protocol::wire::Event> home() {
    return carry_out(protocol::wire::Home{4000, 200, 20000, 800, 200000});
  }
  std::optional<protocol::wire::Event> touch(int8_t direction, double force_N) {
    const int32_t baseline = samples.back().load_counts;
    return carry_out(protocol::wire::Touch{
        direction, baseline, static_cast<int32_t>(force_N * 837.4), 400, 20000, 60000});
  }
  std::optional<protocol::wire::Event> move(int32_t steps, uint32_t speed = 1600) {
    return carry_out(protocol::wire::Move{steps, speed, 20000});
  }

  // Home, feel the fork, clamp it, pull to its top-out. RETURNS the steps at top-out.
  int32_t mount() {
    ENSURE(home()->kind == protocol::wire::EventKind::homed);
    run_ms(100);
    const int32_t unloaded = samples.back().load_counts;
    ENSURE(touch(1, 15.0)->kind == protocol::wire::EventKind::touched);
    run_ms(300);
    const auto pulled = carry_out(protocol::wire::Touch{-1, unloaded, -30 * 837, 80, 20000, 8000});
    ENSURE(pulled->kind == protocol::wire::EventKind::touched);
    return pulled->position_steps;
  }

  void run_until(const std::function<bool()>& done, int most_ms) {
    for (int i = 0; i < most_ms && !done(); ++i) {
      if (heartbeats && i % 100 == 0) send(protocol::wire::Heartbeat{});
      rig_.advance_ms();
      read();
    }
  }
  void run_ms(int duration_ms) {
    run_until([] { return false; }, duration_ms);
  }

  uint16_t faults() const { return events.empty() ? uint16_t{0} : events.back().faults; }

  std::optional<protocol::wire::HelloReply> hello;
  std::vector<protocol::wire::Sample> samples;
  std::vector<protocol::wire::Event> events;
  std::vector<protocol::wire::Status> statuses;
  std::vector<uint8_t> bytes;  // all that came
  bool heartbeats = true;
  const protocol::wire::DecoderCounters& counters() const { return decoder_.counters(); }

 private:
  void read() {
    for (const uint8_t byte : rig_.take_output()) {
      bytes.push_back(byte);
      if (decoder_.feed(byte) == protocol::wire::Verdict::frame) take(decoder_.frame());
    }
  }

  void take(const protocol::wire::Frame& frame) {
    protocol::wire::HelloReply reply;
    protocol::wire::Ack ack;
    protocol::wire::Sample sample;
    protocol::wire::Event event;
    protocol::wire::Status status;
    if (decode(frame, reply)) hello = reply;
    if (decode(frame, sample)) samples.push_back(sample);
    if (decode(frame, event)) events.push_back(event);
    if (decode(frame, status)) statuses.push_back(status);
    if (decode(frame, ack) && frame.sequence == awaited_) refusal_ = ack.refusal;
  }

  SomeRig& rig_;
  protocol::wire::Decoder decoder_;
  uint16_t sequence_ = 0;
  uint16_t awaited_ = 0;
  std::optional<protocol::wire::Refusal> refusal_;
};

using RigClient = BasicRigClient<VirtualRig>;

}  // namespace controller::virtual_rig
