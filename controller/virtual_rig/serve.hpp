// The virtual rig on a pseudo-terminal, so that the host runs its real serial code against it.
//
// A thread of its own moves the rig's time. In real time a second is a second. Accelerated, the
// rig's time runs as fast as the machine allows, in lock-step with the host: never past the last
// heartbeat and its time-out, nor past what the host has read, so a slow host slows the rig and
// never trips it. Standing still the rig's time is held to a hundred times the real one, lest
// waiting for a person heat the processor. Without a session it goes on only when bytes come.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "controller/virtual_rig/virtual_rig.hpp"
#include "protocol/result.hpp"

namespace controller::virtual_rig {

enum class Pace { accelerated, real_time };

struct ServeOptions {
  Pace pace = Pace::accelerated;
  VirtualRigOptions rig;
};

class ServedRig {
 public:
  // Takes the rig down: the host sees its port vanish.
  virtual ~ServedRig() = default;

  // The port to open.
  virtual const std::string& path() const = 0;

  // Does something to the rig between two of its milliseconds, in its thread, and returns when it
  // is done: pump, hang a weight, inject a fault, look at the truth.
  virtual void with_rig(const std::function<void(VirtualRig&)>& action) = 0;
};

// ERRORS: as load_plant(); port_missing; input_out_of_range where the setting does not fit the
// fork.
protocol::Result<std::unique_ptr<ServedRig>> serve(const std::string& plant_file,
                                                   const ServeOptions& options);

}  // namespace controller::virtual_rig
