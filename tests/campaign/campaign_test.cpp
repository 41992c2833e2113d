// A seeded part of the campaign: every fault in every phase on the core, and each fault of the rig
// and of this computer in one phase on the chip's binary. The whole with its table:
// build/tests/campaign/campaign 5
#include <catch2/catch.hpp>

#include "tests/campaign/judge.hpp"

namespace {

using namespace tests::campaign;

CellResult check(const FaultRow& fault, Phase phase, RigKind rig, uint64_t seed) {
  const CellRequest request{fault, phase, rig, seed};
  const CellResult result = play(request);
  for (const std::string& problem : judge(request, result)) {
    FAIL_CHECK(fault.name << ", " << kPhaseNames[static_cast<size_t>(phase)] << ", seed " << seed
                          << ": " << problem);
  }
  return result;
}

}  // namespace

TEST_CASE("campaign: whatever fails in whichever phase, the rig stops and the record is true",
          "[campaign][fault]") {
  int cells = 0;
  int struck = 0;
  for (const FaultRow& fault : fault_rows()) {
    for (int phase = 0; phase < kPhases; ++phase) {
      if (!applies(fault, static_cast<Phase>(phase), RigKind::core)) continue;
      ++cells;
      struck += check(fault, static_cast<Phase>(phase), RigKind::core, 20).struck ? 1 : 0;
    }
  }
  CHECK(cells > 200);
  // A cell whose fault never came shows nothing.
  CHECK(struck == cells);
}

TEST_CASE("campaign: the chip's own binary ends each fault as the core does",
          "[campaign][fault][firmware]") {
  if (!has_chip()) return;
  constexpr Phase kInMotion[] = {Phase::homing, Phase::measuring, Phase::returning};
  int number = 0;
  for (const FaultRow& fault : fault_rows()) {
    if (std::holds_alternative<DiskFault>(fault.strike)) continue;
    const Phase phase = kInMotion[number % 3];
    if (++number % SPRINGWRIGHT_CHIP_EVERY != 0) continue;
    CHECK(check(fault, phase, RigKind::chip, 30).struck);
  }
}

TEST_CASE("campaign: without a fault the job ends well", "[campaign]") {
  FaultRow none{"none", LineFault::garbage_bytes, Ending::goes_on, "", ""};
  const CellResult result = play({none, Phase::finishing, RigKind::core, 3});
  CHECK(result.exit == 0);
  CHECK(result.record == "complete");
  CHECK(result.rows > 150);
}
