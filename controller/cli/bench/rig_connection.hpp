// A rig by its name, real or virtual, with a session that is not open yet.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "controller/host/press.hpp"
#include "controller/virtual_rig/serve.hpp"

namespace controller::cli {

// "virtual:FILE" starts the virtual rig on a pseudo-terminal within this process; from there on it
// is a serial port like any other.
class RigConnection {
 public:
  // `virtual_options` counts for a virtual rig only. ERRORS: those of the port; of the plant file.
  static protocol::Result<RigConnection> connect(
      const std::string& rig, const virtual_rig::VirtualRigOptions& virtual_options);

  host::Session& session() { return *session_; }
  bool is_virtual() const { return served_ != nullptr; }
  // Does something to the virtual rig between two of its milliseconds. REQUIRES: is_virtual().
  void with_virtual_rig(const std::function<void(virtual_rig::VirtualRig&)>& action) {
    ENSURE(is_virtual());
    served_->with_rig(action);
  }

 private:
  // Destroyed from the end: the session before its link, the link before the rig behind it.
  std::unique_ptr<virtual_rig::ServedRig> served_;
  std::unique_ptr<host::Link> link_;
  std::unique_ptr<host::Session> session_;
};

}  // namespace controller::cli
