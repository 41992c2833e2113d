// The line's two ends: the decoder that both share, and the rig's core behind it.
#include <algorithm>
#include <cstring>

#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "protocol/wire/requests.hpp"
#include "tests/fuzz/must.hpp"
#include "tests/fuzz/targets.hpp"
#include "tests/support/bench.hpp"

namespace tests::fuzz {
namespace {

namespace wire = protocol::wire;

// Where a frame is a message, the message says the same frame again.
template <class Message>
void say_again(const wire::Frame& frame) {
  Message message;
  if (!wire::decode(frame, message)) return;
  const wire::EncodedFrame encoded = wire::encode(message, frame.sequence);
  wire::Decoder decoder;
  wire::Verdict last = wire::Verdict::need_more;
  for (size_t i = 0; i < encoded.size; ++i) last = decoder.feed(encoded.bytes[i]);
  must(last == wire::Verdict::frame, "what was encoded is a frame");
  const wire::Frame& again = decoder.frame();
  must(again.type == frame.type && again.sequence == frame.sequence &&
           again.payload_size == frame.payload_size &&
           std::memcmp(again.payload, frame.payload, frame.payload_size) == 0,
       "a message that was read is written with the same bytes");
}

template <class... Messages>
void say_again_any(const wire::Frame& frame) {
  (say_again<Messages>(frame), ...);
}

}  // namespace

void fuzz_decoder(const uint8_t* bytes, size_t size) {
  wire::Decoder decoder;
  for (size_t i = 0; i < size; ++i) {
    if (decoder.feed(bytes[i]) != wire::Verdict::frame) continue;
    say_again_any<wire::Hello, wire::Heartbeat, wire::Home, wire::Move, wire::Jog, wire::Touch,
                  wire::Stop, wire::Halt, wire::SetLimits, wire::ClearFaults, wire::StartSampling,
                  wire::HelloReply, wire::Ack, wire::Sample, wire::Event, wire::Status>(
        decoder.frame());
  }
}

// Bytes to a rig that is in a session: two of them are how long it waits, the rest goes on the
// line. Whatever came, a rig that hears nothing any more must stand still.
void fuzz_rig_core(const uint8_t* bytes, size_t size) {
  constexpr size_t kSizeMax = 512;  // more only takes longer
  if (size > kSizeMax) return;
  test_support::Bench bench;
  bench.say_hello();
  bench.host_alive = false;
  while (size > 0) {
    const size_t take = std::min<size_t>(size, 1 + bytes[0] % 64);
    const int64_t wait_ms = 1 + bytes[0] / 64 * 7;
    bench.hal.received.insert(bench.hal.received.end(), bytes, bytes + take);
    bench.run_ms(wait_ms);
    bytes += take;
    size -= take;
  }
  // The longest time-out that a host may set, and the way to rest.
  constexpr int64_t kSilence_ms = wire::kHeartbeatTimeoutMaxMs + 500;
  must(bench.run_until([&] { return bench.rig.motion() == wire::Motion::idle; }, kSilence_ms),
       "a rig that hears nothing comes to rest");
  const int32_t rest_steps = bench.hal.carriage_steps;
  bench.run_ms(20);
  must(bench.hal.carriage_steps == rest_steps, "a rig at rest takes no step");
}

}  // namespace tests::fuzz
