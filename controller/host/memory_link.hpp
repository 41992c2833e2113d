// A link to a peer in the same process, in virtual time: no port, no thread, no waiting.
//
// Reading lets the peer's time pass until it has something to say. So a sweep of minutes takes as
// long as its arithmetic, and runs the same each time.
#pragma once

#include <deque>

#include "controller/host/link.hpp"

namespace controller::host {

// The other end.
class Peer {
 public:
  virtual ~Peer() = default;
  // The host's bytes, at the present time. May answer into `reply` at once.
  virtual void receive(std::span<const uint8_t> bytes, std::deque<uint8_t>& reply) = 0;
  // Lets time pass up to `until`, or less: it may stop as soon as it has put bytes into `reply`.
  // RETURNS the time reached, later than the present unless bytes were put.
  virtual HostTime advance(HostTime until, std::deque<uint8_t>& reply) = 0;
};

class MemoryLink final : public Link {
 public:
  // The peer must outlive the link.
  explicit MemoryLink(Peer& peer) : peer_(peer) {}

  const std::string& name() const override { return name_; }
  HostTime now() const override { return now_; }
  protocol::Result<size_t> read_some(std::span<uint8_t> room, HostTime until) override;
  protocol::Result<void> write(std::span<const uint8_t> bytes, HostTime until) override;

 private:
  Peer& peer_;
  std::string name_ = "memory";
  HostTime now_{0};
  std::deque<uint8_t> incoming_;
};

}  // namespace controller::host
