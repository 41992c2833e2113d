// Both rigs, for a build that has the simulator.
#include "tests/campaign/rigs.hpp"
#include "tests/firmware/simulated_rig.hpp"

namespace tests::campaign {
namespace {

class ChipPeer final : public PeerOf<SimulatedRig> {
 public:
  using PeerOf<SimulatedRig>::PeerOf;
  bool hang() override {
    rig_.chip().hang_main_loop();
    return true;
  }
};

}  // namespace

bool has_chip() {
  return true;
}

std::unique_ptr<StruckRig> make_rig(RigKind kind, const virtual_rig::PlantFile& file,
                                    const virtual_rig::VirtualRigOptions& options) {
  if (kind == RigKind::core) {
    return std::make_unique<PeerOf<virtual_rig::VirtualRig>>(file, options);
  }
  return std::make_unique<ChipPeer>(SPRINGWRIGHT_CHIP_ELF, file, options);
}

}  // namespace tests::campaign
