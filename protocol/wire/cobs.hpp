// Consistent Overhead Byte Stuffing: any bytes, rewritten without a zero, so that a zero can end
// a frame and a listener who joins late finds the next one.
//
// Freestanding, general in length; the frames of this protocol use at most one block. Neither
// function writes or expects the closing zero.
#pragma once

#include <stdint.h>

namespace protocol {
namespace wire {

// The most bytes that `size` plain bytes can become.
constexpr uint16_t cobs_size_max(uint16_t size) {
  return static_cast<uint16_t>(size + size / 254u + 1u);
}

// Writes the stuffed bytes to `out`. RETURNS how many.
// REQUIRES: room for cobs_size_max(size) bytes; `out` does not overlap `bytes`.
inline uint16_t cobs_encode(const uint8_t* bytes, uint16_t size, uint8_t* out) {
  uint16_t code_at = 0;
  uint16_t end = 1;
  uint8_t code = 1;
  for (uint16_t i = 0; i < size; ++i) {
    if (bytes[i] != 0) {
      out[end++] = bytes[i];
      ++code;
      // A full block carries no zero of its own; one that ends the data needs no successor.
      if (code != 0xFF || i + 1u == size) continue;
    }
    out[code_at] = code;
    code_at = end++;
    code = 1;
  }
  out[code_at] = code;
  return end;
}

// Takes stuffed bytes one at a time.
class CobsDecoder {
 public:
  enum class Step : uint8_t {
    nothing,  // the byte was structure
    plain,    // one plain byte came out
  };

  // REQUIRES: stuffed is not zero.
  Step feed(uint8_t stuffed, uint8_t& plain) {
    if (left_ != 0) {
      --left_;
      plain = stuffed;
      return Step::plain;
    }
    // A code byte. The block before it stood for a zero, unless it was full or there was none.
    const bool zero = code_ != 0 && code_ != 0xFF;
    code_ = stuffed;
    left_ = static_cast<uint8_t>(stuffed - 1);
    plain = 0;
    return zero ? Step::plain : Step::nothing;
  }

  // True where the stuffed bytes may end.
  bool complete() const { return code_ != 0 && left_ == 0; }

  void reset() { *this = CobsDecoder(); }

 private:
  uint8_t code_ = 0;
  uint8_t left_ = 0;
};

}  // namespace wire
}  // namespace protocol
