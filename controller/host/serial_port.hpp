// Opening a serial port so that it is ours alone, before a single setting of it is touched.
//
// The order matters: open, lock (flock), ask whether another process holds it exclusively, claim it
// (TIOCEXCL), and only then 500 000 baud, 8N1, raw. flock also keeps out what TIOCEXCL lets
// through, a process of root. Opening may reset the board (the line DTR rises); it moves nothing,
// since a rig that came out of reset neither knows its position nor has a session.
#pragma once

#include <string>

#include "protocol/result.hpp"

namespace controller::host {

// A file descriptor that closes itself.
class PortHandle {
 public:
  explicit PortHandle(int descriptor) : descriptor_(descriptor) {}
  ~PortHandle();
  PortHandle(PortHandle&& other) noexcept : descriptor_(other.release()) {}
  PortHandle(const PortHandle&) = delete;
  PortHandle& operator=(const PortHandle&) = delete;
  PortHandle& operator=(PortHandle&&) = delete;

  int get() const { return descriptor_; }
  int release();

 private:
  int descriptor_;
};

// ERRORS: port_missing; port_taken, naming the process where /proc tells; port_forbidden; not_a_rig
// where it is no serial port at all.
protocol::Result<PortHandle> open_serial_port(const std::string& path);

// "process 4711 (terminal)", or empty where nobody is seen to hold it.
std::string holder_of_port(const std::string& path);

}  // namespace controller::host
