// What the rig says, and when: greeting, samples and their gaps, status, the clock's roll-over.
#include <catch2/catch.hpp>
#include <random>

#include "tests/support/bench.hpp"

using namespace protocol::wire;
using test_support::Bench;
using test_support::BenchHal;
using test_support::BenchOf;

namespace {

int count_of(const Bench& bench, MessageType type) {
  int count = 0;
  for (const MessageType each : bench.order) count += each == type;
  return count;
}

}  // namespace

// --- Greeting -----------------------------------------------------------------------------------

TEST_CASE("hello: the reply says who and what the rig is", "[core]") {
  Bench bench;
  const HelloReply reply = bench.say_hello();
  CHECK(reply.protocol_version == kProtocolVersion);
  CHECK(reply.firmware_version == controller::firmware::kFirmwareVersion);
  CHECK(reply.rig_id[0] == 'B');
  CHECK(reply.rig_id[7] == 1);
  CHECK(reply.ticks_per_s == 10000);
  CHECK(reply.maximum_speed_steps_per_s == 5000);
  CHECK(reply.maximum_acceleration_steps_per_s2 == 50000);
  CHECK(reply.nominal_samples_per_s == 80);
  REQUIRE(reply.channel_count == 2);
  CHECK(reply.channels[0].quantity == Quantity::step_position);
  CHECK(reply.channels[0].bits == 32);
  CHECK(reply.channels[1].quantity == Quantity::load_counts);
  CHECK(reply.channels[1].bits == 24);
  CHECK(bench.has(kFlagSession));
}

TEST_CASE("hello: a speed beyond half the tick rate is not promised", "[core]") {
  BenchHal<10> hal;
  controller::firmware::RigConfig config = test_support::bench_config();
  config.maximum_speed_steps_per_s = 20000;
  controller::firmware::Rig<BenchHal<10>> rig(hal, config);
  rig.begin();
  Hello hello;
  hello.protocol_version = kProtocolVersion;
  const EncodedFrame frame = encode(hello, 1);
  hal.received.insert(hal.received.end(), frame.bytes, frame.bytes + frame.size);
  rig.poll();
  Decoder decoder;
  HelloReply reply;
  bool greeted = false;
  for (const uint8_t byte : hal.sent) {
    if (decoder.feed(byte) == Verdict::frame && decode(decoder.frame(), reply)) greeted = true;
  }
  REQUIRE(greeted);
  CHECK(reply.maximum_speed_steps_per_s == 5000);
}

TEST_CASE("hello: another version is answered and opens no session", "[core][fault]") {
  Bench bench;
  const HelloReply reply = bench.say_hello(kProtocolVersion + 1);
  CHECK(reply.protocol_version == kProtocolVersion);
  CHECK_FALSE(bench.has(kFlagSession));
  CHECK(bench.ask(StartSampling{}) == Refusal::no_session);
}

TEST_CASE("hello: another version ends the session that was", "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  bench.say_hello(kProtocolVersion + 1);
  CHECK_FALSE(bench.has(kFlagSession));
  CHECK_FALSE(bench.has(kFlagPositionKnown));
}

TEST_CASE("hello: ends whatever ran", "[core]") {
  Bench bench;
  bench.open_and_home();
  bench.ask(StartSampling{});
  REQUIRE(bench.ask(Bench::move_to(20000)) == Refusal::none);
  bench.run_ms(300);
  bench.say_hello();
  const size_t edges = bench.hal.edges.size();
  CHECK(bench.idle());
  CHECK_FALSE(bench.has(kFlagPositionKnown));
  CHECK_FALSE(bench.has(kFlagSampling));
  CHECK_FALSE(bench.has(kFlagLimitsSet));
  bench.run_ms(200);
  CHECK(bench.hal.edges.size() == edges);
  CHECK(bench.rig.faults() == 0);
  CHECK(bench.statuses.back().motion_sequence == 0);
  CHECK(bench.statuses.back().last_event == EventKind::none);
}

TEST_CASE("hello: one without a version is not answered", "[core][fault]") {
  Bench bench;
  uint8_t body[kBodyMax] = {0x01, 1, 0};
  const EncodedFrame frame = seal(body, kHeaderSize);
  bench.hal.received.insert(bench.hal.received.end(), frame.bytes, frame.bytes + frame.size);
  bench.run_ms(20);
  CHECK(bench.hellos.empty());
  CHECK_FALSE(bench.has(kFlagSession));
}

// --- Requests on a bad line ---------------------------------------------------------------------

TEST_CASE("requests: an unknown one is refused by name", "[core][fault]") {
  Bench bench;
  bench.open_session();
  const uint8_t type = GENERATE(as<uint8_t>{}, 0x0D, 0x7F, 0x83, 0xFF);
  uint8_t body[kBodyMax] = {type, 5, 0};
  const EncodedFrame frame = seal(body, kHeaderSize);
  bench.hal.received.insert(bench.hal.received.end(), frame.bytes, frame.bytes + frame.size);
  const size_t before = bench.acks.size();
  bench.run_ms(5);
  REQUIRE(bench.acks.size() == before + 1);
  CHECK(bench.acks.back().request_type == type);
  CHECK(bench.acks.back().refusal == Refusal::unknown_request);
}

TEST_CASE("requests: a payload of the wrong length is refused", "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  const uint8_t type =
      GENERATE(as<uint8_t>{}, 0x03, 0x04, 0x05, 0x06, 0x07, 0x08, 0x09, 0x0A, 0x0B, 0x0C);
  uint8_t body[kBodyMax] = {type, 5, 0, 1};
  const EncodedFrame frame = seal(body, kHeaderSize + 1);
  bench.hal.received.insert(bench.hal.received.end(), frame.bytes, frame.bytes + frame.size);
  const size_t before = bench.acks.size();
  bench.run_ms(5);
  REQUIRE(bench.acks.size() == before + 1);
  CHECK(bench.acks.back().request_type == type);
  CHECK(bench.acks.back().refusal == Refusal::bad_payload);
}

TEST_CASE("requests: rubbish on the line costs nothing but counters", "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  std::mt19937 random(99);
  for (int i = 0; i < 3000; ++i) {
    bench.hal.received.push_back(static_cast<uint8_t>(random() & 0xFF));
  }
  bench.hal.received.push_back(0);
  bench.run_ms(200);
  CHECK(bench.rig.faults() == 0);
  CHECK(bench.perform(Bench::move_to(900)).kind == EventKind::motion_done);
  bench.run_ms(60);
  CHECK(bench.statuses.back().bad_length > 0);
  CHECK(bench.statuses.back().resync_bytes > 2000);
}

TEST_CASE("requests: a damaged one is not answered; repeated, it is carried out once",
          "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  EncodedFrame frame = encode(Bench::move_to(900), 500);
  frame.bytes[5] = static_cast<uint8_t>(frame.bytes[5] ^ 1);
  bench.hal.received.insert(bench.hal.received.end(), frame.bytes, frame.bytes + frame.size);
  const size_t acks = bench.acks.size();
  bench.run_ms(50);
  CHECK(bench.acks.size() == acks);
  CHECK(bench.idle());
  CHECK(bench.ask_as(Bench::move_to(900), 500) == Refusal::none);
  CHECK(bench.wait_for_event(500).position_steps == 900);
}

TEST_CASE("requests: a flood of bytes does not starve the load cell", "[core][fault]") {
  Bench bench;
  bench.open_session();
  bench.ask(StartSampling{});
  bench.samples.clear();
  for (int i = 0; i < 40000; ++i) bench.hal.received.push_back(0x55);
  bench.run_ms(200);
  CHECK(bench.samples.size() >= 15);
}

// --- Samples ------------------------------------------------------------------------------------

TEST_CASE("samples: come only when asked for, one per conversion", "[core]") {
  Bench bench;
  bench.open_session();
  bench.run_ms(200);
  CHECK(bench.samples.empty());
  REQUIRE(bench.ask(StartSampling{}) == Refusal::none);
  CHECK(bench.has(kFlagSampling));
  bench.run_ms(1000);
  CHECK(bench.samples.size() >= 79);
  CHECK(bench.samples.size() <= 81);
  REQUIRE(bench.ask(StopSampling{}) == Refusal::none);
  const size_t count = bench.samples.size();
  bench.run_ms(200);
  CHECK(bench.samples.size() == count);
}

TEST_CASE("samples: carry reading, place and time of their conversion", "[core]") {
  Bench bench;
  bench.hal.load_noise = false;
  bench.hal.load_counts = [](int32_t carriage_steps) { return 7 * carriage_steps - 3000; };
  bench.open_session();
  SetLimits limits = Bench::wide_limits();
  REQUIRE(bench.ask(limits) == Refusal::none);
  REQUIRE(bench.perform(Bench::home()).kind == EventKind::homed);
  bench.ask(StartSampling{});
  bench.samples.clear();
  bench.perform(Bench::move_to(3000, 1500, 10000));
  REQUIRE(bench.samples.size() > 100);
  for (size_t i = 0; i < bench.samples.size(); ++i) {
    const Sample& sample = bench.samples[i];
    CAPTURE(i);
    // The step of the very tick may fall between the conversion and the reading.
    const int32_t off = (sample.load_counts + 3000) - 7 * sample.position_steps;
    REQUIRE(off <= 0);
    REQUIRE(off >= -7);
    if (i == 0) continue;
    REQUIRE(sample.number == bench.samples[i - 1].number + 1);
    REQUIRE(sample.time_us - bench.samples[i - 1].time_us == 12500);
    REQUIRE((sample.flags & kFlagPositionKnown) != 0);
    REQUIRE((sample.flags & kFlagForward) != 0);
  }
}

TEST_CASE("samples: flags tell compression from extension, moving from standing", "[core]") {
  Bench bench;
  bench.open_and_home();
  bench.ask(StartSampling{});
  REQUIRE(bench.ask(Bench::move_to(4000)) == Refusal::none);
  bench.run_ms(500);
  CHECK((bench.samples.back().flags & kFlagMoving) != 0);
  CHECK((bench.samples.back().flags & kFlagForward) != 0);
  bench.wait_for_event(bench.sequence);
  bench.run_ms(30);
  CHECK((bench.samples.back().flags & kFlagMoving) == 0);
  REQUIRE(bench.ask(Bench::move_to(1000)) == Refusal::none);
  bench.run_ms(500);
  CHECK((bench.samples.back().flags & kFlagMoving) != 0);
  CHECK((bench.samples.back().flags & kFlagForward) == 0);
}

TEST_CASE("samples: one that finds no room is counted, and its number shows the gap", "[core]") {
  Bench bench;
  bench.open_session();
  bench.ask(StartSampling{});
  bench.run_ms(200);
  bench.hal.tx_bytes_per_tick = 0;  // the line is blocked
  bench.run_ms(200);
  bench.hal.tx_bytes_per_tick = 5;
  bench.run_ms(300);
  uint32_t missing = 0;
  for (size_t i = 1; i < bench.samples.size(); ++i) {
    missing += bench.samples[i].number - bench.samples[i - 1].number - 1;
  }
  CHECK(missing >= 10);
  CHECK(missing <= 16);
  CHECK(bench.statuses.back().dropped_samples == missing);
}

TEST_CASE("samples: are counted while nobody listens, so a pause shows too", "[core]") {
  Bench bench;
  bench.open_session();
  bench.ask(StartSampling{});
  bench.run_ms(100);
  bench.ask(StopSampling{});
  const uint32_t last = bench.samples.back().number;
  bench.run_ms(500);
  bench.ask(StartSampling{});
  bench.run_ms(20);
  CHECK(bench.samples.back().number - last >= 40);
  bench.run_ms(60);
  CHECK(bench.statuses.back().dropped_samples == 0);  // nothing asked for was lost
}

TEST_CASE("samples: go before status on a slow line", "[core]") {
  Bench bench;
  bench.open_session();
  bench.ask(StartSampling{});
  bench.run_ms(100);
  bench.samples.clear();
  bench.order.clear();
  const uint16_t dropped = bench.statuses.back().dropped_samples;
  bench.hal.tx_capacity = 60;
  bench.hal.tx_bytes_per_tick = 1;  // 10 bytes a millisecond: barely more than both need
  bench.run_ms(2000);
  CHECK(bench.samples.size() >= 159);
  CHECK(count_of(bench, MessageType::status) == 0);  // no room for one and a sample behind it
  bench.hal.tx_capacity = 128;
  bench.run_ms(200);
  CHECK(count_of(bench, MessageType::status) >= 3);
  CHECK(bench.statuses.back().dropped_samples == dropped);
}

// --- Status and events --------------------------------------------------------------------------

TEST_CASE("status: comes every 50 ms within a session, never without", "[core]") {
  Bench bench;
  bench.run_ms(500);
  CHECK(bench.statuses.empty());
  bench.say_hello();
  bench.run_ms(1000);
  CHECK(bench.statuses.size() >= 19);
  CHECK(bench.statuses.size() <= 20);
}

TEST_CASE("status: tells everything that an observer needs", "[core]") {
  Bench bench;
  bench.hal.load_noise = false;
  bench.hal.load_counts = [](int32_t carriage_steps) { return carriage_steps - 500; };
  bench.open_and_home();
  REQUIRE(bench.ask(Bench::move_to(5000)) == Refusal::none);
  bench.run_ms(300);
  Status status = bench.statuses.back();
  CHECK(status.motion == Motion::moving);
  CHECK(status.motion_sequence == bench.sequence);
  CHECK(status.last_event == EventKind::homed);
  CHECK((status.flags & kFlagMoving) != 0);
  CHECK((status.flags & kFlagSession) != 0);
  CHECK(status.faults == 0);
  bench.wait_for_event(bench.sequence);
  bench.run_ms(60);
  status = bench.statuses.back();
  CHECK(status.motion == Motion::idle);
  CHECK(status.last_event == EventKind::motion_done);
  CHECK(status.motion_sequence == bench.sequence);
  CHECK(status.position_steps == 5000);
  CHECK(status.load_counts == 4500);
  CHECK(status.frames > 5);
  CHECK(status.bad_crc == 0);
  CHECK(status.bad_length == 0);
  CHECK(status.resync_bytes == 0);
}

TEST_CASE("status: counts the frames it could not read", "[core]") {
  Bench bench;
  bench.open_session();
  EncodedFrame frame = encode(Heartbeat{}, 3);
  frame.bytes[1] = static_cast<uint8_t>(frame.bytes[1] ^ 0x20);
  bench.hal.received.insert(bench.hal.received.end(), frame.bytes, frame.bytes + frame.size);
  bench.hal.received.insert(bench.hal.received.end(), {0x09, 0x01, 0x00});
  bench.run_ms(60);
  CHECK(bench.statuses.back().bad_crc == 1);
  CHECK(bench.statuses.back().bad_length == 1);
  CHECK(bench.statuses.back().resync_bytes == frame.size - 1 + 2);
}

TEST_CASE("events: one that finds no room waits for it", "[core]") {
  Bench bench;
  bench.open_and_home();
  REQUIRE(bench.ask(Bench::move_to(400)) == Refusal::none);
  const size_t before = bench.events.size();
  bench.hal.tx_capacity = 0;
  bench.run_ms(500);
  CHECK(bench.idle());
  CHECK(bench.events.size() == before);
  bench.hal.tx_capacity = 128;
  const Event event = bench.wait_for_event(bench.sequence, 10);
  CHECK(event.kind == EventKind::motion_done);
  CHECK(bench.rig.time_us() - event.time_us > 100000);  // when it happened, not when it was sent
}

TEST_CASE("events: more than can wait are lost, the status still tells the last", "[core][fault]") {
  Bench bench;
  bench.open_and_home();
  bench.hal.tx_capacity = 0;
  for (int i = 0; i < 6; ++i) {
    bench.post(Bench::move_to(i % 2 == 0 ? 320 : 300), static_cast<uint16_t>(9000 + i));
    bench.run_ms(100);
  }
  bench.hal.emergency_stop = true;
  bench.run_ms(10);
  const size_t before = bench.events.size();
  bench.hal.tx_capacity = 128;
  bench.run_ms(100);
  CHECK(bench.events.size() == before + 4);
  CHECK(bench.statuses.back().last_event == EventKind::fault);
  CHECK(bench.statuses.back().motion_sequence == 9005);
}

TEST_CASE("acks: one that finds no room is given when asked for again", "[core]") {
  Bench bench;
  bench.open_and_home();
  bench.hal.tx_capacity = 0;
  bench.post(Bench::move_to(700), 9000);
  bench.run_ms(1000);
  CHECK(bench.hal.carriage_steps == 700);
  bench.hal.tx_capacity = 128;
  const size_t edges = bench.hal.edges.size();
  CHECK(bench.ask_as(Bench::move_to(700), 9000) == Refusal::none);
  bench.run_ms(100);
  CHECK(bench.hal.edges.size() == edges);
}

TEST_CASE("heartbeat: is not answered", "[core]") {
  Bench bench;
  bench.open_session();
  const size_t acks = bench.acks.size();
  for (int i = 0; i < 10; ++i) {
    bench.post(Heartbeat{}, static_cast<uint16_t>(i));
    bench.run_ms(10);
  }
  CHECK(bench.acks.size() == acks);
}

// --- Time ---------------------------------------------------------------------------------------

TEST_CASE("time: a tick is its share of a millisecond", "[core]") {
  Bench bench;
  for (int i = 0; i < 25; ++i) bench.tick();
  CHECK(bench.rig.time_us() == 2500);
}

TEST_CASE("time: rolls over after 71.6 minutes and nothing stumbles", "[core]") {
  // One tick a millisecond: the roll-over is 4.3 million ticks away.
  BenchOf<BenchHal<1>> bench;
  bench.host_alive = false;
  constexpr uint32_t kBeforeMs = 4294967u - 2000u;
  bench.hal.load_cell_present = true;
  for (uint32_t i = 0; i < kBeforeMs; ++i) {
    bench.hal.advance();
    bench.rig.on_tick();
    bench.rig.poll();
  }
  bench.host_alive = true;
  bench.say_hello();
  SetLimits limits = Bench::wide_limits();
  REQUIRE(bench.ask(limits) == Refusal::none);
  Home home = Bench::home();
  home.speed_steps_per_s = 450;
  home.maximum_steps = 5000;
  home.back_off_steps = 50;
  REQUIRE(bench.ask(StartSampling{}) == Refusal::none);
  REQUIRE(bench.rig.faults() == 0);
  CHECK(bench.rig.time_us() > 0xFFFFFFFFu - 2100000u);
  CHECK(bench.perform(home).kind == EventKind::homed);
  CHECK(bench.rig.time_us() < 20000000u);
  CHECK(bench.rig.faults() == 0);
  bool rolled = false;
  for (size_t i = 1; i < bench.samples.size(); ++i) {
    // The difference of two times is right across the roll-over, modulo 2^32.
    const uint32_t gap_us = bench.samples[i].time_us - bench.samples[i - 1].time_us;
    REQUIRE(gap_us == 12000);  // 12 ticks of a millisecond
    REQUIRE(bench.samples[i].number == bench.samples[i - 1].number + 1);
    rolled = rolled || bench.samples[i].time_us < bench.samples[i - 1].time_us;
  }
  CHECK(rolled);
}
