// A conversation with one rig: requests with answers, reports that come by themselves, heartbeats
// both ways.
//
//   request   numbered, repeated with the same number until answered; the rig carries it out once
//   sample    into one bounded queue (sample_stream.hpp)
//   event     the end of a motion, a fault, or a restart of the rig
//   status    every 50 ms; also stands in for an event that the line lost
//
// After open() the rig's position is unknown and nothing moves. Every wait runs through pump(),
// which keeps the heartbeat going. One thread; the link must outlive the session.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "controller/host/deadlines.hpp"
#include "controller/host/device_clock.hpp"
#include "controller/host/link.hpp"
#include "controller/host/sample_stream.hpp"
#include "protocol/record/sweep_record.hpp"
#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"
#include "protocol/wire/requests.hpp"

namespace controller::host {

class Session {
 public:
  explicit Session(Link& link, const Deadlines& deadlines = {}, const HeartbeatPolicy& beat = {});

  // Says hello until the rig answers. ERRORS: not_a_rig where none does in time,
  // version_mismatch, link_lost.
  protocol::Result<void> open();

  // RETURNS the request's sequence number, by which a motion's end is known. ERRORS: rig_refused
  // or not_homed with the reason; link_timeout where no answer came to any of its repetitions.
  template <class Request>
  protocol::Result<uint16_t> request(const Request& request) {
    const uint16_t sequence = next_sequence();
    return exchange(protocol::wire::encode(request, sequence), sequence, Request::kType);
  }

  // Takes what comes for a moment: until one chunk of bytes was read, or `until`. ERRORS:
  // link_lost; link_timeout where the rig has been silent for too long.
  protocol::Result<void> pump(HostTime until);

  // A stop that waits for nothing, not even its answer. For when something has gone wrong.
  void send_halt();

  std::optional<TimedSample> take_sample() { return samples_.take(); }
  // How the motion ended, once it has: by its event, or by what the newest status says.
  std::optional<protocol::wire::Event> motion_end(uint16_t sequence) const;
  // A fault of the rig or its restart, since the faults were last forgotten; `tolerated` faults do
  // not count.
  std::optional<protocol::Error> trouble(uint16_t tolerated = 0) const;
  uint16_t faults() const { return faults_; }
  // After clear_faults was accepted.
  void forget_faults();
  // After start_sampling was accepted.
  void restart_samples() { samples_.restart(); }

  const protocol::wire::HelloReply& rig() const { return rig_; }
  std::string rig_id() const;
  // Empty until the first status of this session.
  const std::optional<protocol::wire::Status>& status() const { return status_; }
  const SampleStream& samples() const { return samples_; }
  // The newest time of the rig's clock that was seen.
  int64_t device_time_us() const { return clock_.now_us(); }
  protocol::LineCounters counters() const;
  const HeartbeatPolicy& heartbeat() const { return beat_; }
  Link& link() { return link_; }
  HostTime now() const { return link_.now(); }

 private:
  struct Answer {
    uint16_t sequence = 0;
    protocol::wire::MessageType type{};
    std::optional<protocol::wire::Refusal> refusal;  // empty: still waited for
  };

  uint16_t next_sequence();
  protocol::Result<uint16_t> exchange(const protocol::wire::EncodedFrame& frame, uint16_t sequence,
                                      protocol::wire::MessageType type);
  protocol::Result<uint16_t> verdict() const;
  protocol::Result<void> say_hello();
  protocol::Error no_hello() const;
  protocol::Result<void> send(const protocol::wire::EncodedFrame& frame);
  protocol::Result<void> beat_if_due();
  protocol::Result<void> read_chunk(HostTime until);
  void take_frame(const protocol::wire::Frame& frame);
  void take_hello(const protocol::wire::Frame& frame);
  void take_ack(const protocol::wire::Ack& ack, uint16_t sequence);
  void take_sample(const protocol::wire::Sample& sample);
  void take_event(const protocol::wire::Event& event, uint16_t sequence);
  void take_status(const protocol::wire::Status& status);

  Link& link_;
  Deadlines deadlines_;
  HeartbeatPolicy beat_;

  protocol::wire::Decoder decoder_;
  uint64_t bytes_ = 0;
  protocol::LineCounters counters_;
  DeviceClock clock_;
  SampleStream samples_;

  bool open_ = false;
  std::optional<uint16_t> other_version_;
  protocol::wire::HelloReply rig_;
  uint16_t sequence_ = 0;
  Answer answer_;

  HostTime last_frame_{0};
  HostTime last_beat_{0};
  int64_t last_beat_device_us_ = 0;

  std::optional<protocol::wire::Status> status_;
  std::optional<protocol::wire::Event> end_;
  uint16_t end_sequence_ = 0;
  uint16_t faults_ = 0;
  bool restarted_ = false;
};

}  // namespace controller::host
