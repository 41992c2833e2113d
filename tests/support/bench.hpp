// A rig's core on the bench, with a host that says what a test wants it to say.
#pragma once

#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "controller/firmware/core/rig.hpp"
#include "tests/support/bench_hal.hpp"

namespace test_support {

namespace wire = protocol::wire;

inline controller::firmware::RigConfig bench_config() {
  controller::firmware::RigConfig config;
  const uint8_t id[wire::kRigIdSize] = {'B', 'E', 'N', 'C', 'H', 0, 0, 1};
  for (uint8_t i = 0; i < wire::kRigIdSize; ++i) config.id[i] = id[i];
  return config;
}

struct Reported {
  wire::Event event;
  uint16_t sequence;
};

template <class Hal>
class BenchOf {
 public:
  BenchOf() : rig(hal, bench_config()) { rig.begin(); }

  Hal hal;
  controller::firmware::Rig<Hal> rig;

  bool host_alive = true;       // sends a heartbeat every 50 ms
  bool main_loop_alive = true;  // poll() is called
  bool edge_interrupt = true;   // on_input_edge() is called when an input changes

  // The n-th frame from here on, counted from 0 in each direction, gets a wrong byte; -1 is none.
  int damage_to_rig = -1;
  int damage_to_host = -1;

  std::vector<wire::Ack> acks;
  std::vector<wire::Sample> samples;
  std::vector<Reported> events;
  std::vector<wire::Status> statuses;
  std::vector<wire::HelloReply> hellos;
  std::vector<wire::MessageType> order;  // of everything that came
  uint16_t last_ack_sequence = 0;

  void tick() {
    hal.advance();
    const uint8_t inputs = hal.inputs();
    if (edge_interrupt && inputs != inputs_) rig.on_input_edge();
    inputs_ = inputs;
    rig.on_tick();
    if (host_alive && hal.now_ticks % (50 * Hal::kTicksPerMs) == 0) post(wire::Heartbeat{}, 0);
    if (main_loop_alive) rig.poll();
    listen();
  }

  void run_ms(int64_t ms) {
    for (int64_t i = 0; i < ms * Hal::kTicksPerMs; ++i) tick();
  }

  // Runs until `done`, at most `ms`. RETURNS whether it came.
  template <class Condition>
  bool run_until(Condition done, int64_t ms = 60000) {
    for (int64_t i = 0; i < ms * Hal::kTicksPerMs; ++i) {
      if (done()) return true;
      tick();
    }
    return done();
  }

  // Puts a request on the line.
  template <class Message>
  void post(const Message& message, uint16_t as_sequence) {
    wire::EncodedFrame frame = wire::encode(message, as_sequence);
    if (damage_to_rig >= 0 && damage_to_rig-- == 0) frame.bytes[1] ^= 0x20;
    hal.received.insert(hal.received.end(), frame.bytes, frame.bytes + frame.size);
  }

  // Sends a request with the next number and returns the answer.
  template <class Message>
  wire::Refusal ask(const Message& message) {
    return ask_as(message, ++sequence);
  }

  template <class Message>
  wire::Refusal ask_as(const Message& message, uint16_t as_sequence) {
    const size_t before = acks.size();
    post(message, as_sequence);
    if (!run_until([&] { return acks.size() > before; }, 100)) {
      throw std::runtime_error("the rig does not answer");
    }
    if (last_ack_sequence != as_sequence ||
        acks.back().request_type != static_cast<uint8_t>(Message::kType)) {
      throw std::runtime_error("the rig answers something else");
    }
    return acks.back().refusal;
  }

  wire::HelloReply say_hello(uint16_t version = wire::kProtocolVersion) {
    const size_t before = hellos.size();
    wire::Hello hello;
    hello.protocol_version = version;
    post(hello, ++sequence);
    if (!run_until([&] { return hellos.size() > before; }, 100)) {
      throw std::runtime_error("the rig does not greet");
    }
    return hellos.back();
  }

  // Waits for the event that concludes the request with this number.
  wire::Event wait_for_event(uint16_t of_sequence, int64_t ms = 60000) {
    std::optional<wire::Event> found;
    run_until(
        [&] {
          for (; events_seen_ < events.size(); ++events_seen_) {
            if (events[events_seen_].sequence == of_sequence) {
              found = events[events_seen_++].event;
              return true;
            }
          }
          return false;
        },
        ms);
    if (!found) throw std::runtime_error("the event does not come");
    return *found;
  }

  // Asks for a motion and waits for its end.
  template <class Message>
  wire::Event perform(const Message& message) {
    const wire::Refusal refusal = ask(message);
    if (refusal != wire::Refusal::none) {
      throw std::runtime_error("refused: " + std::to_string(static_cast<int>(refusal)));
    }
    return wait_for_event(sequence);
  }

  // The common start of a test: greeted, limits set, the load cell heard.
  void open_session() {
    run_ms(100);
    say_hello();
    if (ask(wide_limits()) != wire::Refusal::none) throw std::runtime_error("limits refused");
  }

  void open_and_home() {
    open_session();
    if (perform(home()).kind != wire::EventKind::homed) throw std::runtime_error("not homed");
  }

  static wire::SetLimits wide_limits() {
    wire::SetLimits limits;
    limits.force_low_counts = -400000;
    limits.force_high_counts = 400000;
    limits.travel_low_steps = 0;
    limits.travel_high_steps = 38000;
    limits.heartbeat_timeout_ms = 300;
    return limits;
  }

  static wire::Home home() {
    wire::Home home;
    home.speed_steps_per_s = 4000;
    home.slow_speed_steps_per_s = 200;
    home.acceleration_steps_per_s2 = 20000;
    home.back_off_steps = 300;
    home.maximum_steps = 60000;
    return home;
  }

  static wire::Move move_to(int32_t position_steps, uint32_t speed = 2000,
                            uint32_t acceleration = 10000) {
    wire::Move move;
    move.position_steps = position_steps;
    move.speed_steps_per_s = speed;
    move.acceleration_steps_per_s2 = acceleration;
    return move;
  }

  bool has(uint16_t flag) const { return (rig.flags() & flag) != 0; }
  bool idle() const { return rig.motion() == wire::Motion::idle; }

  uint16_t sequence = 100;

 private:
  void listen() {
    for (; heard_ < hal.sent.size(); ++heard_) {
      uint8_t byte = hal.sent[heard_];
      const bool second = frame_bytes_++ == 1;
      if (second && damage_to_host >= 0 && damage_to_host-- == 0) byte ^= 0x20;
      if (byte == wire::kDelimiter) frame_bytes_ = 0;
      if (decoder_.feed(byte) == wire::Verdict::frame) take(decoder_.frame());
    }
  }

  template <class Message, class Use>
  bool take_as(const wire::Frame& frame, Use use) {
    Message message;
    if (!wire::decode(frame, message)) return false;
    use(message);
    return true;
  }

  void take(const wire::Frame& frame) {
    order.push_back(static_cast<wire::MessageType>(frame.type));
    const bool understood =
        take_as<wire::Ack>(frame,
                           [&](const wire::Ack& ack) {
                             acks.push_back(ack);
                             last_ack_sequence = frame.sequence;
                           }) ||
        take_as<wire::Sample>(frame, [&](const wire::Sample& s) { samples.push_back(s); }) ||
        take_as<wire::Event>(frame,
                             [&](const wire::Event& e) {
                               events.push_back({e, frame.sequence});
                             }) ||
        take_as<wire::Status>(frame, [&](const wire::Status& s) { statuses.push_back(s); }) ||
        take_as<wire::HelloReply>(frame, [&](const wire::HelloReply& r) { hellos.push_back(r); });
    if (!understood) throw std::runtime_error("the rig sends what nobody understands");
  }

  wire::Decoder decoder_;
  size_t heard_ = 0;
  size_t events_seen_ = 0;
  int frame_bytes_ = 0;
  uint8_t inputs_ = 0;
};

using Bench = BenchOf<BenchHal<10>>;

}  // namespace test_support
