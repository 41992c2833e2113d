#include "controller/cli/bench/rig_connection.hpp"

#include "controller/host/serial_link.hpp"

namespace controller::cli {

using protocol::Result;

Result<RigConnection> RigConnection::connect(
    const std::string& rig, const virtual_rig::VirtualRigOptions& virtual_options) {
  constexpr std::string_view kVirtual = "virtual:";
  RigConnection connection;
  std::string port = rig;
  host::HeartbeatPolicy beat;
  if (rig.rfind(kVirtual, 0) == 0) {
    virtual_rig::ServeOptions options;
    options.rig = virtual_options;
    Result<std::unique_ptr<virtual_rig::ServedRig>> served =
        virtual_rig::serve(rig.substr(kVirtual.size()), options);
    if (!served) return served.error();
    connection.served_ = std::move(served).value();
    port = connection.served_->path();
    beat = host::HeartbeatPolicy::accelerated();
  }
  Result<std::unique_ptr<host::SerialLink>> link = host::SerialLink::open(port);
  if (!link) return link.error();
  connection.link_ = std::move(link).value();
  connection.session_ = std::make_unique<host::Session>(*connection.link_, host::Deadlines(), beat);
  return connection;
}

}  // namespace controller::cli
