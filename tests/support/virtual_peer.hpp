// A virtual rig at the other end of a memory link: everything in one thread and in virtual time.
#pragma once

#include <algorithm>

#include "controller/host/memory_link.hpp"
#include "controller/virtual_rig/virtual_rig.hpp"

namespace test_support {

class VirtualPeer final : public controller::host::Peer {
 public:
  VirtualPeer(const controller::virtual_rig::PlantFile& file,
              const controller::virtual_rig::VirtualRigOptions& options)
      : rig(file, options) {}

  void receive(std::span<const uint8_t> bytes, std::deque<uint8_t>&) override {
    rig.receive(bytes.data(), bytes.size());
  }

  controller::host::HostTime advance(controller::host::HostTime until,
                                     std::deque<uint8_t>& reply) override {
    while (reply.empty() && now() < until) {
      rig.advance_ms();
      ++passed_ms_;
      const std::vector<uint8_t> output = rig.take_output();
      reply.insert(reply.end(), output.begin(), output.end());
    }
    return now();
  }

  // Time passes and nobody listens.
  void run(std::chrono::milliseconds duration) {
    for (auto i = duration.count(); i > 0; --i) rig.advance_ms();
    passed_ms_ += duration.count();
    (void)rig.take_output();
  }

  controller::virtual_rig::VirtualRig rig;

 private:
  controller::host::HostTime now() const { return std::chrono::milliseconds(passed_ms_); }

  int64_t passed_ms_ = 0;
};

}  // namespace test_support
