// Messages: every one comes back from its bytes, at the ends of its ranges too.
#include <catch2/catch.hpp>
#include <cstdint>
#include <limits>
#include <random>
#include <vector>

#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "protocol/wire/requests.hpp"

using namespace protocol::wire;

namespace {

// Fills each field with random bits, or with one end of its range.
class RandomFields {
 public:
  explicit RandomFields(unsigned seed) : random_(seed) {}

  void u8(uint8_t& value) { value = next<uint8_t>(); }
  void u16(uint16_t& value) { value = next<uint16_t>(); }
  void u32(uint32_t& value) { value = next<uint32_t>(); }
  void i8(int8_t& value) { value = next<int8_t>(); }
  void i32(int32_t& value) { value = next<int32_t>(); }
  template <class Enum>
  void code(Enum& value) {
    value = static_cast<Enum>(next<uint8_t>());
  }

 private:
  template <class T>
  T next() {
    switch (random_() % 4) {
      case 0:
        return std::numeric_limits<T>::min();
      case 1:
        return std::numeric_limits<T>::max();
      case 2:
        return 0;
      default:
        return static_cast<T>(random_());
    }
  }

  std::mt19937 random_;
};

// The plain payload, which has each field at its full width: equal bytes, equal messages.
template <class Message>
std::vector<uint8_t> payload_of(const Message& message) {
  uint8_t bytes[255];
  FieldWriter writer(bytes);
  Message::visit(message, writer);
  return std::vector<uint8_t>(bytes, bytes + writer.size());
}

Verdict feed_all(Decoder& decoder, const EncodedFrame& frame) {
  Verdict verdict = Verdict::need_more;
  for (uint8_t i = 0; i < frame.size; ++i) verdict = decoder.feed(frame.bytes[i]);
  return verdict;
}

template <class Message>
void make_valid(Message&) {}
void make_valid(HelloReply& reply) {
  reply.channel_count = static_cast<uint8_t>(reply.channel_count % (kChannelsMax + 1));
}

// A frame with this type and payload.
EncodedFrame raw_frame(uint8_t type, const std::vector<uint8_t>& payload) {
  uint8_t body[kBodyMax];
  FieldWriter writer(body);
  writer.u8(type);
  writer.u16(77);
  for (const uint8_t byte : payload) writer.u8(byte);
  return seal(body, writer.size());
}

}  // namespace

TEMPLATE_TEST_CASE("messages: each comes back from its bytes unchanged",
                   "[protocol][wire][property]", Hello, Heartbeat, Stop, Halt, ClearFaults, Home,
                   Touch, Move, Jog, SetLimits, StartSampling, StopSampling, HelloReply, Ack,
                   Sample, Event, Status) {
  RandomFields fields(4711);
  for (unsigned trial = 0; trial < 500; ++trial) {
    TestType sent;
    TestType::visit(sent, fields);
    make_valid(sent);
    const uint16_t sequence = static_cast<uint16_t>(trial * 131);
    Decoder decoder;
    REQUIRE(feed_all(decoder, encode(sent, sequence)) == Verdict::frame);
    CHECK(decoder.frame().sequence == sequence);
    TestType received;
    REQUIRE(decode(decoder.frame(), received));
    REQUIRE(payload_of(received) == payload_of(sent));
  }
}

TEMPLATE_TEST_CASE("messages: a payload one byte too short or too long is refused",
                   "[protocol][wire][fault]", Hello, Heartbeat, Stop, Halt, ClearFaults, Home,
                   Touch, Move, Jog, SetLimits, StartSampling, StopSampling, HelloReply, Ack,
                   Sample, Event, Status) {
  const auto payload = payload_of(TestType{});
  TestType message;
  Decoder decoder;
  auto longer = payload;
  longer.push_back(0);
  REQUIRE(feed_all(decoder, raw_frame(static_cast<uint8_t>(TestType::kType), longer)) ==
          Verdict::frame);
  CHECK_FALSE(decode(decoder.frame(), message));
  if (payload.empty()) return;
  auto shorter = payload;
  shorter.pop_back();
  REQUIRE(feed_all(decoder, raw_frame(static_cast<uint8_t>(TestType::kType), shorter)) ==
          Verdict::frame);
  CHECK_FALSE(decode(decoder.frame(), message));
}

TEST_CASE("messages: a frame of another type is not read", "[protocol][wire]") {
  Decoder decoder;
  REQUIRE(feed_all(decoder, encode(Stop{}, 1)) == Verdict::frame);
  Halt halt;
  CHECK_FALSE(decode(decoder.frame(), halt));
  Stop stop;
  CHECK(decode(decoder.frame(), stop));
}

TEST_CASE("messages: more channels than there is room for are refused", "[protocol][wire][fault]") {
  HelloReply reply;
  reply.channel_count = kChannelsMax;
  auto payload = payload_of(reply);
  const size_t count_at = payload.size() - kChannelsMax * 2u - 1u;
  REQUIRE(payload[count_at] == kChannelsMax);
  payload[count_at] = kChannelsMax + 1;
  payload.insert(payload.end(), {1, 1});
  Decoder decoder;
  REQUIRE(feed_all(decoder, raw_frame(0x81, payload)) == Verdict::frame);
  CHECK_FALSE(decode(decoder.frame(), reply));
}

TEST_CASE("messages: the longest reply fits a frame", "[protocol][wire]") {
  HelloReply reply;
  reply.channel_count = kChannelsMax;
  CHECK(payload_of(reply).size() <= kPayloadMax);
  CHECK(payload_of(Status{}).size() <= kPayloadMax);
  CHECK(payload_of(Touch{}).size() <= kPayloadMax);
}

TEST_CASE("messages: the version leads hello and its reply, whatever follows", "[protocol][wire]") {
  Decoder decoder;
  uint16_t version = 0;
  REQUIRE(feed_all(decoder, raw_frame(0x01, {0x02, 0x01, 0xAA, 0xBB, 0xCC})) == Verdict::frame);
  REQUIRE(version_of(decoder.frame(), version));
  CHECK(version == 0x0102);
  REQUIRE(feed_all(decoder, raw_frame(0x81, {0x07, 0x00})) == Verdict::frame);
  REQUIRE(version_of(decoder.frame(), version));
  CHECK(version == 7);
  REQUIRE(feed_all(decoder, raw_frame(0x01, {0x01})) == Verdict::frame);
  CHECK_FALSE(version_of(decoder.frame(), version));
}

TEST_CASE("messages: integers lie little-endian, two's complement", "[protocol][wire]") {
  CHECK(payload_of(Move{-2, 0x01020304, 5}) ==
        std::vector<uint8_t>{0xFE, 0xFF, 0xFF, 0xFF, 4, 3, 2, 1, 5, 0, 0, 0});
  const uint8_t bytes[] = {0x00, 0x00, 0x00, 0x80, 0xFF, 0x80};
  FieldReader reader(bytes, sizeof bytes);
  int32_t lowest = 0;
  int8_t minus_one = 0;
  int8_t low = 0;
  reader.i32(lowest);
  reader.i8(minus_one);
  reader.i8(low);
  CHECK(lowest == std::numeric_limits<int32_t>::min());
  CHECK(minus_one == -1);
  CHECK(low == -128);
  CHECK(reader.whole());
}

TEST_CASE("messages: reading past the end gives zeros and is remembered", "[protocol][wire]") {
  const uint8_t bytes[] = {0x11};
  FieldReader reader(bytes, sizeof bytes);
  uint32_t value = 99;
  reader.u32(value);
  CHECK(value == 0x11);
  CHECK_FALSE(reader.whole());
}
