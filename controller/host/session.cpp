#include "controller/host/session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "controller/host/wire_words.hpp"

namespace controller::host {

namespace wire = protocol::wire;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

Session::Session(Link& link, const Deadlines& deadlines, const HeartbeatPolicy& beat)
    : link_(link), deadlines_(deadlines), beat_(beat) {}

// --- Opening ------------------------------------------------------------------------------------

Result<void> Session::open() {
  // Whatever half frame lies on the line ends with this zero.
  const std::array<uint8_t, 1> zero{wire::kDelimiter};
  Result<void> done = link_.write(zero, now() + deadlines_.write);
  const HostTime give_up = now() + deadlines_.open;
  while (done && !open_ && !other_version_ && now() < give_up) done = say_hello();
  if (!done) return done.error();
  if (other_version_) {
    return Error{Errc::version_mismatch,
                 fmt::format("The rig at '{}' speaks version {} of the protocol, this program "
                             "version {}. Update the older of the two.",
                             link_.name(), *other_version_, wire::kProtocolVersion)};
  }
  if (!open_) return no_hello();
  return {};
}

Result<void> Session::say_hello() {
  wire::Hello hello;
  hello.protocol_version = wire::kProtocolVersion;
  const uint16_t sequence = next_sequence();
  answer_ = {sequence, wire::MessageType::hello, std::nullopt};
  Result<void> done = send(wire::encode(hello, sequence));
  const HostTime patience = now() + deadlines_.hello;
  while (done && !open_ && !other_version_ && now() < patience) done = read_chunk(patience);
  return done;
}

Error Session::no_hello() const {
  const std::string heard = bytes_ == 0
                                ? "it said nothing at all"
                                : fmt::format("its {} bytes are not of this protocol", bytes_);
  return {Errc::not_a_rig,
          fmt::format("The device at '{}' is not a rig: within {:.1f} s {}. Choose another port "
                      "(\"springwright rig find\"), or check that the rig has its firmware.",
                      link_.name(), static_cast<double>(deadlines_.open.count()) / 1000.0, heard)};
}

void Session::take_hello(const wire::Frame& frame) {
  if (open_ || answer_.type != wire::MessageType::hello) return;
  uint16_t version = 0;
  if (!wire::version_of(frame, version)) return;
  if (version != wire::kProtocolVersion) {
    other_version_ = version;
    return;
  }
  // An answer to an earlier hello will do only if the rig heard no later one: a later one starts
  // the session afresh, and anything asked in between would be forgotten.
  if (frame.sequence != answer_.sequence || !wire::decode(frame, rig_)) return;
  open_ = true;
  answer_.refusal = wire::Refusal::none;
  last_beat_ = now();
  last_beat_device_us_ = clock_.now_us();
}

// Its letters as letters, the rest as hexadecimal without leading zeros: "RIG-1234".
std::string Session::rig_id() const {
  const uint8_t* const end = std::end(rig_.rig_id);
  const uint8_t* byte = std::begin(rig_.rig_id);
  std::string name;
  for (; byte != end && *byte >= 0x21 && *byte < 0x7F; ++byte) name += static_cast<char>(*byte);
  byte = std::find_if(byte, end, [](uint8_t each) { return each != 0; });
  if (byte != end && !name.empty()) name += '-';
  for (; byte != end; ++byte) name += fmt::format("{:02x}", *byte);
  return name.empty() ? "unnamed" : name;
}

// --- Requests -----------------------------------------------------------------------------------

uint16_t Session::next_sequence() {
  // Zero stands for "no request" in events.
  if (++sequence_ == 0) ++sequence_;
  return sequence_;
}

Result<uint16_t> Session::exchange(const wire::EncodedFrame& frame, uint16_t sequence,
                                   wire::MessageType type) {
  answer_ = {sequence, type, std::nullopt};
  for (int tries = 0; tries < kRequestTriesMax; ++tries) {
    Result<void> done = send(frame);
    const HostTime patience = now() + deadlines_.reply;
    while (done && !answer_.refusal && now() < patience) done = pump(patience);
    if (!done) return done.error();
    if (answer_.refusal) return verdict();
  }
  return Error{Errc::link_timeout,
               fmt::format("The rig at '{}' does not answer \"{}\", asked {} times. Check the line "
                           "from this computer to the rig.",
                           link_.name(), request_word(type), kRequestTriesMax)};
}

Result<uint16_t> Session::verdict() const {
  const wire::Refusal refusal = *answer_.refusal;
  if (refusal == wire::Refusal::none) return answer_.sequence;
  if (restarted_) return *trouble();
  std::string words = refusal_words(refusal);
  if (refusal == wire::Refusal::faulted || refusal == wire::Refusal::inputs_active) {
    if (faults_ != 0) words += " (" + fault_words(faults_) + ")";
  }
  return Error{refusal == wire::Refusal::not_homed ? Errc::not_homed : Errc::rig_refused,
               fmt::format("The rig refuses \"{}\": {}.", request_word(answer_.type), words)};
}

void Session::take_ack(const wire::Ack& ack, uint16_t sequence) {
  if (sequence == answer_.sequence && !answer_.refusal &&
      ack.request_type == static_cast<uint8_t>(answer_.type)) {
    answer_.refusal = ack.refusal;
  } else {
    ++counters_.late_replies;
  }
}

void Session::send_halt() {
  (void)send(wire::encode(wire::Halt{}, next_sequence()));
}

// --- The line -----------------------------------------------------------------------------------

Result<void> Session::send(const wire::EncodedFrame& frame) {
  const Result<void> done =
      link_.write(std::span<const uint8_t>(frame.bytes, frame.size), now() + deadlines_.write);
  // Every frame tells the rig that the host is alive.
  if (done) {
    last_beat_ = now();
    last_beat_device_us_ = clock_.now_us();
  }
  return done;
}

Result<void> Session::beat_if_due() {
  if (!open_) return {};
  const std::chrono::milliseconds patience(beat_.rig_timeout_ms);
  if (!beat_.lock_step && now() - last_beat_ > patience) {
    return Error{Errc::stopped_by_guard,
                 fmt::format("This computer did nothing for {:.1f} s, so the rig has stopped by "
                             "itself, as it does after {:.1f} s. Close other programs and keep it "
                             "from sleeping, then home the rig.",
                             std::chrono::duration<double>(now() - last_beat_).count(),
                             static_cast<double>(patience.count()) / 1e3)};
  }
  const bool due = now() - last_beat_ >= beat_.host_period ||
                   clock_.now_us() - last_beat_device_us_ >= beat_.device_period.count();
  return due ? send(wire::encode(wire::Heartbeat{}, next_sequence())) : Result<void>{};
}

Result<void> Session::pump(HostTime until) {
  ENSURE(open_);
  Result<void> done = beat_if_due();
  if (!done) return done;
  done = read_chunk(std::min(until, last_beat_ + beat_.host_period));
  if (!done) return done;
  // It may be this computer that was away: what came meanwhile is read before the rig is blamed.
  if (now() - last_frame_ > deadlines_.gap) done = read_chunk(now() + deadlines_.late_look);
  if (!done) return done;
  if (now() - last_frame_ > deadlines_.gap) {
    return Error{
        Errc::link_timeout,
        fmt::format("The rig at '{}' has fallen silent: nothing for {:.1f} s, though it "
                    "reports every 50 ms. Check its power and cable, then home it.",
                    link_.name(), std::chrono::duration<double>(now() - last_frame_).count())};
  }
  return beat_if_due();
}

Result<void> Session::read_chunk(HostTime until) {
  std::array<uint8_t, 512> chunk;
  const Result<size_t> size = link_.read_some(chunk, until);
  if (!size) return size.error();
  bytes_ += *size;
  for (size_t i = 0; i < *size; ++i) {
    switch (decoder_.feed(chunk[i])) {
      case wire::Verdict::need_more:
        break;
      case wire::Verdict::frame:
        ++counters_.frames;
        take_frame(decoder_.frame());
        break;
      case wire::Verdict::bad:
        ++counters_.bad_frames;
        break;
    }
  }
  return {};
}

void Session::take_frame(const wire::Frame& frame) {
  last_frame_ = now();
  if (frame.type == static_cast<uint8_t>(wire::MessageType::hello_reply)) return take_hello(frame);
  if (!open_) return;  // from before this session
  wire::Sample sample;
  wire::Status status;
  wire::Event event;
  wire::Ack ack;
  if (wire::decode(frame, sample)) return take_sample(sample);
  if (wire::decode(frame, status)) return take_status(status);
  if (wire::decode(frame, event)) return take_event(event, frame.sequence);
  if (wire::decode(frame, ack)) return take_ack(ack, frame.sequence);
  ++counters_.bad_frames;  // sound, but nothing that this version knows
}

// --- Reports ------------------------------------------------------------------------------------

void Session::take_sample(const wire::Sample& sample) {
  samples_.accept(sample, clock_.unroll(sample.time_us), now());
}

void Session::take_event(const wire::Event& event, uint16_t sequence) {
  if (event.kind == wire::EventKind::started) {
    restarted_ = true;
    return;
  }
  clock_.unroll(event.time_us);
  faults_ = static_cast<uint16_t>(faults_ | event.faults);
  if (sequence == 0) return;
  end_ = event;
  end_sequence_ = sequence;
}

void Session::take_status(const wire::Status& status) {
  clock_.unroll(status.time_us);
  status_ = status;
  faults_ = static_cast<uint16_t>(faults_ | status.faults);
}

std::optional<wire::Event> Session::motion_end(uint16_t sequence) const {
  if (end_ && end_sequence_ == sequence) return end_;
  // The event may have been lost; the status says the same, once the motion is over.
  if (!status_ || status_->motion_sequence != sequence || status_->motion != wire::Motion::idle) {
    return std::nullopt;
  }
  wire::Event event;
  event.kind = status_->last_event;
  event.faults = status_->faults;
  event.position_steps = status_->position_steps;
  event.time_us = status_->time_us;
  return event;
}

std::optional<Error> Session::trouble(uint16_t tolerated) const {
  if (restarted_) {
    return Error{Errc::stopped_by_rig,
                 "The rig has restarted by itself (a brown-out, or its reset button): its position "
                 "is unknown. Check its power, connect again and home it."};
  }
  const auto faults = static_cast<uint16_t>(faults_ & ~tolerated);
  if (faults == 0) return std::nullopt;
  return Error{Errc::stopped_by_rig, fmt::format("The rig has stopped: {}. {}", fault_words(faults),
                                                 fault_advice(faults))};
}

void Session::forget_faults() {
  faults_ = 0;
  // An older status may still name them.
  status_.reset();
}

protocol::LineCounters Session::counters() const {
  protocol::LineCounters counters = counters_;
  counters.resync_bytes = decoder_.counters().resync_bytes;
  counters.lost_samples = samples_.lost();
  return counters;
}

}  // namespace controller::host
