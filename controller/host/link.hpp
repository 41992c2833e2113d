// Bytes to and from a rig, with a clock. Everything above is straight-line code against this
// interface, so that a test can run it without a port and without real time.
//
//   SerialLink   a tty, behind Asio
//   MemoryLink   a peer in the same process, in virtual time
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>

#include "protocol/result.hpp"

namespace controller::host {

// Monotonic, from an origin that nobody knows; the wall clock is never used as a clock.
using HostTime = std::chrono::nanoseconds;

class Link {
 public:
  virtual ~Link() = default;

  // What messages call it: "/dev/ttyUSB0".
  virtual const std::string& name() const = 0;
  virtual HostTime now() const = 0;

  // Waits until bytes have come or the time has. RETURNS how many were put into `room`, 0 when
  // the time came first. ERRORS: link_lost, at once, where the device is gone.
  virtual protocol::Result<size_t> read_some(std::span<uint8_t> room, HostTime until) = 0;

  // Hands all bytes over. ERRORS: link_lost; link_timeout where the device takes no more.
  virtual protocol::Result<void> write(std::span<const uint8_t> bytes, HostTime until) = 0;
};

}  // namespace controller::host
