// Opening a serial port so that it is ours alone, before a single setting of it is touched.
//
// The order matters: open, lock (flock), ask whether another process holds it exclusively, claim it
// (TIOCEXCL), and only then 500 000 baud, 8N1, raw. flock also keeps out what TIOCEXCL lets
// through, a process of root. Opening may reset the board (the line DTR rises); it moves nothing,
// since a rig that came out of reset neither knows its position nor has a session.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "protocol/result.hpp"

namespace controller::host {

// The file descriptor of an open port. Closes itself, and gives the claim back before.
class PortHandle {
 public:
  explicit PortHandle(int descriptor) : descriptor_(descriptor) {}
  ~PortHandle();
  PortHandle(PortHandle&& other) noexcept;
  PortHandle(const PortHandle&) = delete;
  PortHandle& operator=(const PortHandle&) = delete;
  PortHandle& operator=(PortHandle&&) = delete;

  int get() const { return descriptor_; }
  // No other process may open it from now on. RETURNS false where the system refuses.
  bool claim();

 private:
  int descriptor_;
  bool claimed_ = false;
};

// ERRORS: port_missing; port_taken, naming the process where /proc tells; port_forbidden; not_a_rig
// where it is no serial port at all.
protocol::Result<PortHandle> open_serial_port(const std::string& path);

// Another process that has the port open, as far as /proc shows it to this user.
struct PortHolder {
  int process = 0;
  std::string name;
};
std::optional<PortHolder> holder_of_port(const std::string& path);

// Ports that may lead to a rig, by the names that stay the same when they are plugged in again
// (/dev/serial/by-id), and without such a name as they are (/dev/ttyUSB0).
std::vector<std::string> find_serial_ports();

}  // namespace controller::host
