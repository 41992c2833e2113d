// A frame: COBS( type, sequence, payload, crc ) and a closing zero byte. WIRE.md is the grammar.
#pragma once

#include <stdint.h>

#include "protocol/wire/cobs.hpp"
#include "protocol/wire/crc16.hpp"
#include "protocol/wire/fields.hpp"

namespace protocol {
namespace wire {

constexpr uint16_t kProtocolVersion = 1;

constexpr uint8_t kDelimiter = 0;
constexpr uint8_t kHeaderSize = 3;  // type u8, sequence u16
constexpr uint8_t kCrcSize = 2;
constexpr uint8_t kPayloadMax = 48;  // the hello reply is the longest; the chip keeps one buffer
constexpr uint8_t kBodyMax = kHeaderSize + kPayloadMax + kCrcSize;
constexpr uint8_t kFrameMax = kBodyMax + 2;  // one COBS code byte, one delimiter

static_assert(kBodyMax <= 254, "a frame is at most one COBS block");

// A received frame. The payload lies in the decoder's buffer, until the decoder is fed again.
struct Frame {
  uint8_t type = 0;
  uint16_t sequence = 0;
  const uint8_t* payload = nullptr;
  uint8_t payload_size = 0;
};

struct EncodedFrame {
  uint8_t bytes[kFrameMax];
  uint8_t size;  // delimiter included
};

// The frame around a body whose header and payload are already there, `size` bytes of them.
// `body` needs kCrcSize more bytes of room. REQUIRES: size <= kHeaderSize + kPayloadMax.
inline EncodedFrame seal(uint8_t* body, uint8_t size) {
  FieldWriter(body + size).u16(crc16(body, size));
  EncodedFrame frame{};
  const uint16_t stuffed = cobs_encode(body, static_cast<uint16_t>(size + kCrcSize), frame.bytes);
  frame.bytes[stuffed] = kDelimiter;
  frame.size = static_cast<uint8_t>(stuffed + 1u);
  return frame;
}

// The frame that carries `message`.
template <class Message>
EncodedFrame encode(const Message& message, uint16_t sequence) {
  uint8_t body[kBodyMax];
  FieldWriter fields(body);
  fields.code(Message::kType);
  fields.u16(sequence);
  Message::visit(message, fields);
  return seal(body, fields.size());
}

// Reads `frame` into `message`. RETURNS false where the type differs or the payload is not
// exactly as long as the message; `message` is then unspecified. Codes of enumerations are not
// checked: a later version may send new ones, and the reader decides.
template <class Message>
[[gnu::warn_unused_result]] bool decode(const Frame& frame, Message& message) {
  if (frame.type != static_cast<uint8_t>(Message::kType)) return false;
  FieldReader fields(frame.payload, frame.payload_size);
  Message::visit(message, fields);
  return fields.whole();
}

// The protocol version in a hello or a hello reply. It leads the payload in every version of the
// protocol, whatever follows, so that two that do not match can tell each other. RETURNS false
// where the payload is too short.
[[gnu::warn_unused_result]] inline bool version_of(const Frame& frame, uint16_t& version) {
  if (frame.payload_size < 2) return false;
  FieldReader(frame.payload, 2).u16(version);
  return true;
}

}  // namespace wire
}  // namespace protocol
