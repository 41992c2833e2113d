// Where there is no simulator the core alone is struck at.
#include "tests/campaign/rigs.hpp"

namespace tests::campaign {

bool has_chip() {
  return false;
}

std::unique_ptr<StruckRig> make_rig(RigKind, const virtual_rig::PlantFile& file,
                                    const virtual_rig::VirtualRigOptions& options) {
  return std::make_unique<PeerOf<virtual_rig::VirtualRig>>(file, options);
}

}  // namespace tests::campaign
