// The rigs that the campaign strikes at: the firmware's core on this computer, and the chip's own
// binary in its simulator. One interface: bytes, virtual time, faults.
#pragma once

#include <memory>
#include <vector>

#include "controller/host/memory_link.hpp"
#include "controller/virtual_rig/faults.hpp"
#include "controller/virtual_rig/plant_file.hpp"
#include "controller/virtual_rig/virtual_rig.hpp"
#include "protocol/wire/decoder.hpp"
#include "protocol/wire/replies.hpp"

namespace tests::campaign {

namespace host = controller::host;
namespace virtual_rig = controller::virtual_rig;
namespace wire = protocol::wire;

class StruckRig : public host::Peer {
 public:
  virtual void inject(const virtual_rig::Fault& fault) = 0;
  // The main loop never comes back, interrupts go on. RETURNS whether this rig can be made to.
  virtual bool hang() = 0;
  virtual double carriage_m() const = 0;
  // Time passes while the host does not look; what the rig says meanwhile waits, as far as a
  // terminal's buffer goes.
  virtual void pass(std::chrono::milliseconds duration) = 0;

  // Every sample that the rig sent, whatever became of it on the line.
  const std::vector<wire::Sample>& sent() const { return sent_; }
  // RETURNS whether the carriage stands still once nobody has spoken to the rig for its time-out.
  bool comes_to_rest_within(std::chrono::milliseconds timeout) {
    constexpr std::chrono::milliseconds kTick{2};  // the rig's own, and the one that runs already
    pass(timeout + kTick);
    const double before_m = carriage_m();
    pass(std::chrono::seconds(3));
    return carriage_m() == before_m;
  }

 protected:
  void note(const std::vector<uint8_t>& bytes) {
    for (const uint8_t byte : bytes) {
      wire::Sample sample;
      if (listener_.feed(byte) == wire::Verdict::frame && decode(listener_.frame(), sample)) {
        sent_.push_back(sample);
      }
    }
  }

 private:
  wire::Decoder listener_;
  std::vector<wire::Sample> sent_;
};

template <class Rig>
class PeerOf : public StruckRig {
 public:
  template <class... Arguments>
  explicit PeerOf(Arguments&&... arguments) : rig_(std::forward<Arguments>(arguments)...) {}

  void receive(std::span<const uint8_t> bytes, std::deque<uint8_t>&) override {
    rig_.receive(bytes.data(), bytes.size());
  }
  host::HostTime advance(host::HostTime until, std::deque<uint8_t>& reply) override {
    reply.insert(reply.end(), waiting_.begin(), waiting_.end());
    waiting_.clear();
    while (reply.empty() && now() < until) {
      const std::vector<uint8_t> output = pass_ms();
      reply.insert(reply.end(), output.begin(), output.end());
    }
    return now();
  }
  void pass(std::chrono::milliseconds duration) override {
    constexpr size_t kTerminal_bytes = 4096;
    for (auto i = duration.count(); i > 0; --i) {
      const std::vector<uint8_t> output = pass_ms();
      if (waiting_.size() + output.size() > kTerminal_bytes) continue;
      waiting_.insert(waiting_.end(), output.begin(), output.end());
    }
  }
  void inject(const virtual_rig::Fault& fault) override { rig_.inject(fault); }
  bool hang() override { return false; }
  double carriage_m() const override { return rig_.carriage_m(); }

 protected:
  Rig rig_;

 private:
  std::vector<uint8_t> pass_ms() {
    rig_.advance_ms();
    ++passed_ms_;
    std::vector<uint8_t> output = rig_.take_output();
    note(output);
    return output;
  }
  host::HostTime now() const { return std::chrono::milliseconds(passed_ms_); }

  int64_t passed_ms_ = 0;
  std::vector<uint8_t> waiting_;
};

enum class RigKind { core, chip };

// Whether this build has the simulator and the chip's binary.
bool has_chip();
std::unique_ptr<StruckRig> make_rig(RigKind kind, const virtual_rig::PlantFile& file,
                                    const virtual_rig::VirtualRigOptions& options);

}  // namespace tests::campaign
