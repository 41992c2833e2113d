#include "tests/campaign/struck_line.hpp"

#include <algorithm>

#include "protocol/wire/decoder.hpp"

namespace tests::campaign {

namespace wire = protocol::wire;
using protocol::Errc;
using protocol::Result;

namespace {

constexpr int kBytesHit = 60;  // more than a frame
constexpr int kFramesHit = 3;
constexpr int kRequestsHit = 2;
constexpr std::chrono::milliseconds kLate{700};  // longer than any answer is waited for

protocol::Error gone() {
  return {Errc::link_lost, "The rig at 'memory' is gone (end of file): unplugged."};
}

bool is_forgery(LineFault fault) {
  return fault == LineFault::forged_load || fault == LineFault::forged_position ||
         fault == LineFault::forged_number || fault == LineFault::forged_time;
}

void forge(LineFault fault, wire::Sample& sample) {
  switch (fault) {
    case LineFault::forged_load:
      sample.load_counts += 1 << 21;
      return;
    case LineFault::forged_position:
      sample.position_steps += 1 << 18;
      return;
    case LineFault::forged_number:
      sample.number += 50;
      return;
    default:
      sample.time_us -= 10'000'000;
  }
}

}  // namespace

void StruckLine::strike_in(std::chrono::milliseconds delay, std::function<void()> strike) {
  if (strike_ || struck_) return;
  strike_ = std::move(strike);
  strike_at_ = now() + delay;
}

void StruckLine::look_at_clock() {
  if (!strike_ || now() < strike_at_) return;
  struck_ = true;
  const std::function<void()> strike = std::exchange(strike_, nullptr);
  strike();
}

void StruckLine::fail(LineFault fault) {
  fault_ = fault;
  left_ = fault == LineFault::damaged_frames                                          ? kFramesHit
          : fault == LineFault::lost_requests || fault == LineFault::damaged_requests ? kRequestsHit
          : is_forgery(fault)                                                         ? 1
                                                                                      : kBytesHit;
  if (fault == LineFault::late_replies) released_at_ = now() + kLate;
}

bool StruckLine::takes(LineFault fault, int how_many) {
  if (fault_ != fault || left_ <= 0) return false;
  left_ -= how_many;
  return true;
}

Result<size_t> StruckLine::read_some(std::span<uint8_t> room, host::HostTime until) {
  look_at_clock();
  if (fault_ == LineFault::gone) return gone();
  if (fault_ == LineFault::deaf) {
    if (until > now()) cut_off_ += until - now();
    return size_t{0};
  }
  // Bytes that were held back come before any wait.
  const bool holding = fault_ == LineFault::late_replies && now() < released_at_;
  if (incoming_.empty() || holding) {
    std::array<uint8_t, 512> chunk;
    const host::HostTime wait = holding ? std::min(until, released_at_) : until;
    const Result<size_t> size = inner_.read_some(chunk, wait);
    if (!size) return size.error();
    pass_in(std::span<const uint8_t>(chunk.data(), *size));
    if (holding && now() < released_at_) return size_t{0};
  }
  const size_t size = std::min(room.size(), incoming_.size());
  std::copy_n(incoming_.begin(), size, room.begin());
  incoming_.erase(incoming_.begin(), incoming_.begin() + static_cast<ptrdiff_t>(size));
  return size;
}

void StruckLine::pass_in(std::span<const uint8_t> bytes) {
  while (takes(LineFault::garbage_bytes)) incoming_.push_back(random_byte());
  for (const uint8_t byte : bytes) pass_byte(byte);
}

void StruckLine::pass_byte(uint8_t byte) {
  if (takes(LineFault::dropped_bytes)) return;
  if (takes(LineFault::duplicated_bytes)) incoming_.push_back(byte);
  if (byte != wire::kDelimiter && fault_ == LineFault::damaged_frames && left_ > 0) {
    // The last byte before the delimiter would do as well; any bit of any byte is found.
    const bool first = incoming_.empty() || incoming_.back() == wire::kDelimiter;
    if (!first && takes(LineFault::damaged_frames)) byte = static_cast<uint8_t>(byte ^ 0x10u);
  }
  if (!fault_ || !is_forgery(*fault_) || left_ <= 0) {
    incoming_.push_back(byte);
    return;
  }
  frame_.push_back(byte);
  if (byte == wire::kDelimiter) forge_frame();
}

// The frame goes on, as something else if it is a sample.
void StruckLine::forge_frame() {
  wire::Decoder decoder;
  wire::Sample sample;
  wire::Verdict verdict = wire::Verdict::need_more;
  for (const uint8_t byte : frame_) verdict = decoder.feed(byte);
  if (verdict == wire::Verdict::frame && decode(decoder.frame(), sample)) {
    --left_;
    forge(*fault_, sample);
    const wire::EncodedFrame forged = wire::encode(sample, decoder.frame().sequence);
    frame_.assign(forged.bytes, forged.bytes + forged.size);
  }
  incoming_.insert(incoming_.end(), frame_.begin(), frame_.end());
  frame_.clear();
}

Result<void> StruckLine::write(std::span<const uint8_t> bytes, host::HostTime until) {
  look_at_clock();
  wire::Decoder decoder;
  for (const uint8_t byte : bytes) {
    if (decoder.feed(byte) == wire::Verdict::frame && on_request_)
      on_request_(decoder.frame().type);
  }
  if (fault_ == LineFault::gone) return gone();
  if (fault_ == LineFault::deaf || takes(LineFault::lost_requests)) return {};
  if (!takes(LineFault::damaged_requests)) return inner_.write(bytes, until);
  std::vector<uint8_t> damaged(bytes.begin(), bytes.end());
  damaged[damaged.size() / 2] = static_cast<uint8_t>(damaged[damaged.size() / 2] ^ 0x04u);
  return inner_.write(damaged, until);
}

}  // namespace tests::campaign
