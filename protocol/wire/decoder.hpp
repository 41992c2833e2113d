// Bytes in, frames out. It never blocks, never allocates, and finds the next frame after any
// damage: at worst the frame that was hit and its neighbour are lost, and counted.
#pragma once

#include <stdint.h>

#include "protocol/wire/frame.hpp"

namespace protocol {
namespace wire {

enum class Verdict : uint8_t {
  need_more,  // no frame ended here
  frame,      // a good one did: see Decoder::frame()
  bad,        // a damaged one did, or grew too long; the counters say how
};

// Why a curve is as it is: counts since the start, staying at their top instead of wrapping.
struct DecoderCounters {
  uint16_t frames = 0;
  uint16_t bad_crc = 0;
  uint16_t bad_length = 0;    // too long, too short, or cut inside a COBS block
  uint16_t resync_bytes = 0;  // bytes thrown away while looking for the next frame
};

// Off in the build that looks for crashes and nowhere else: random bytes would hardly ever pass it,
// and what stands behind it would go untried.
#ifdef FUZZING_BUILD_MODE_UNSAFE_FOR_PRODUCTION
constexpr bool kCrcIsChecked = false;
#else
constexpr bool kCrcIsChecked = true;
#endif

inline void count(uint16_t& counter, uint16_t more = 1) {
  const uint16_t room = static_cast<uint16_t>(0xFFFFu - counter);
  counter = more > room ? uint16_t{0xFFFF} : static_cast<uint16_t>(counter + more);
}

class Decoder {
 public:
  Verdict feed(uint8_t byte) {
    if (byte == kDelimiter) return end();
    if (skipping_) {
      count(counters_.resync_bytes);
      return Verdict::need_more;
    }
    ++taken_;
    uint8_t plain = 0;
    if (cobs_.feed(byte, plain) == CobsDecoder::Step::nothing) return Verdict::need_more;
    if (size_ == kBodyMax) {
      discard(counters_.bad_length);
      skipping_ = true;
      return Verdict::bad;
    }
    body_[size_++] = plain;
    return Verdict::need_more;
  }

  // The frame of the last Verdict::frame; valid until the next feed().
  const Frame& frame() const { return frame_; }

  const DecoderCounters& counters() const { return counters_; }

 private:
  Verdict end() {
    const bool empty = skipping_ || taken_ == 0;  // extra delimiters are allowed anywhere
    Verdict verdict = Verdict::need_more;
    if (!empty) verdict = judge();
    skipping_ = false;
    restart();
    return verdict;
  }

  Verdict judge() {
    if (!cobs_.complete() || size_ < kHeaderSize + kCrcSize) {
      discard(counters_.bad_length);
      return Verdict::bad;
    }
    const uint8_t sealed = static_cast<uint8_t>(size_ - kCrcSize);
    uint16_t sent = 0;
    FieldReader(body_ + sealed, kCrcSize).u16(sent);
    if (kCrcIsChecked && crc16(body_, sealed) != sent) {
      discard(counters_.bad_crc);
      return Verdict::bad;
    }
    FieldReader header(body_, kHeaderSize);
    header.u8(frame_.type);
    header.u16(frame_.sequence);
    frame_.payload = body_ + kHeaderSize;
    frame_.payload_size = static_cast<uint8_t>(sealed - kHeaderSize);
    count(counters_.frames);
    return Verdict::frame;
  }

  void discard(uint16_t& why) {
    count(why);
    count(counters_.resync_bytes, taken_);
  }

  void restart() {
    cobs_.reset();
    size_ = 0;
    taken_ = 0;
  }

  uint8_t body_[kBodyMax] = {};
  uint8_t size_ = 0;
  uint8_t taken_ = 0;  // stuffed bytes of this frame; bounded, since kFrameMax is
  bool skipping_ = false;
  CobsDecoder cobs_;
  Frame frame_;
  DecoderCounters counters_;
};

}  // namespace wire
}  // namespace protocol
