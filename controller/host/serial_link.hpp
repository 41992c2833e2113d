// A rig at a serial port, behind Asio: one thread, one io_context, and each operation under a
// deadline of its own. To the layers above it looks like blocking calls.
//
// Unplugging shows at once: end of file or an input-output error from a tty means that the device
// is gone, never that there is nothing to read.
#pragma once

#include <memory>

#include "controller/host/link.hpp"

namespace controller::host {

class SerialLink final : public Link {
 public:
  // ERRORS: as open_serial_port. Nothing is sent.
  static protocol::Result<std::unique_ptr<SerialLink>> open(const std::string& path);
  ~SerialLink() override;

  const std::string& name() const override { return name_; }
  HostTime now() const override;
  protocol::Result<size_t> read_some(std::span<uint8_t> room, HostTime until) override;
  protocol::Result<void> write(std::span<const uint8_t> bytes, HostTime until) override;

 private:
  struct Port;
  SerialLink(std::string name, std::unique_ptr<Port> port);

  std::string name_;
  std::unique_ptr<Port> port_;
};

}  // namespace controller::host
