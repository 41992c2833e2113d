// The whole campaign, and its table: every fault in every phase on every rig, several times at
// random moments. Usage: campaign [TIMES] [SEED] [core|chip]     once, seed 1, both
// Prints one line for each cell that is not as it should be, then the table as Markdown: the exit
// codes that were seen, and what the record says. Exit status 1 where a cell is not as it should
// be.
#include <cstdio>
#include <cstdlib>
#include <set>
#include <string>

#include "tests/campaign/judge.hpp"

namespace {

using namespace tests::campaign;

struct Tally {
  int cells = 0;
  int struck = 0;
  int bad = 0;
};

// "5 interrupted", or several.
std::string joined(const std::set<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : " / ") + word;
  return text;
}

std::string play_cell(const FaultRow& fault, Phase phase, RigKind rig, uint64_t seed, int times,
                      Tally& tally) {
  if (!applies(fault, phase, rig)) return "";
  std::set<std::string> endings;
  for (int i = 0; i < times; ++i) {
    const CellRequest request{fault, phase, rig, seed + static_cast<uint64_t>(i)};
    const CellResult result = play(request);
    const auto problems = judge(request, result);
    ++tally.cells;
    tally.struck += result.struck ? 1 : 0;
    tally.bad += problems.empty() ? 0 : 1;
    const bool with_record = result.struck && result.record != "none";
    endings.insert(ending_word(result) + (with_record ? " " + result.record : ""));
    for (const std::string& problem : problems) {
      std::printf("NOT AS IT SHOULD BE: %s, %s, %s, seed %llu: %s\n",
                  std::string(fault.name).c_str(), kPhaseNames[static_cast<size_t>(phase)],
                  rig == RigKind::core ? "core" : "chip",
                  static_cast<unsigned long long>(request.seed), problem.c_str());
    }
  }
  return joined(endings);
}

void play_table(RigKind rig, uint64_t seed, int times, Tally& tally) {
  std::printf("\n## %s\n\n| fault |", rig == RigKind::core ? "The core on this computer"
                                                           : "The chip's binary in its simulator");
  for (const char* name : kPhaseNames) std::printf(" %s |", name);
  std::printf("\n|---|");
  for (int i = 0; i < kPhases; ++i) std::printf("---|");
  std::printf("\n");
  for (const FaultRow& fault : fault_rows()) {
    std::string line = "| " + std::string(fault.name) + " |";
    for (int phase = 0; phase < kPhases; ++phase) {
      line += " " + play_cell(fault, static_cast<Phase>(phase), rig, seed, times, tally) + " |";
    }
    std::printf("%s\n", line.c_str());
    std::fflush(stdout);
  }
}

}  // namespace

int main(int argc, char** argv) {
  const int times = argc > 1 ? std::atoi(argv[1]) : 1;
  const uint64_t seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
  const std::string only = argc > 3 ? argv[3] : "";
  if (times < 1) {
    std::fprintf(stderr, "usage: campaign [TIMES] [SEED] [core|chip]\n");
    return 2;
  }
  Tally tally;
  if (only != "chip") play_table(RigKind::core, seed, times, tally);
  if (only != "core" && has_chip()) play_table(RigKind::chip, seed, times, tally);
  std::printf("\n%d cells, the fault struck in %d of them, %d not as they should be\n", tally.cells,
              tally.struck, tally.bad);
  return tally.bad == 0 ? 0 : 1;
}
