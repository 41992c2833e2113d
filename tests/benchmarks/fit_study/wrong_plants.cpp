// Whether a fit finds out that something is wrong, and says where.
//
// Usage: wrong_plants [FORKS_PER_FLAW [FIRST_SEED]]
#include <fmt/format.h>

#include <cstdlib>

#include "tests/benchmarks/fit_study/study.hpp"

int main(int argc, char** argv) {
  using namespace fit_study;
  const int count = argc > 1 ? std::atoi(argv[1]) : 20;
  const std::uint64_t first = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1000;
  bool holds = true;
  fmt::print("{:<20} {:>8} {:>14} {:>8}\n", "flaw", "flagged", "place named", "of");
  for (Flaw flaw : {Flaw::missing_chamber, Flaw::doubled_friction, Flaw::sticking_bushing,
                    Flaw::slipped_travel, Flaw::gain_step}) {
    int flagged = 0;
    int named = 0;
    for (const Fitted& one : fit_many(count, first, flaw, 2)) {
      flagged += one.flagged;
      named += one.place_named;
      if (one.flagged && one.place_named) continue;
      fmt::print("  fork {}: {}\n", one.seed,
                 one.texts.empty() ? "nothing said" : one.texts.front());
    }
    fmt::print("{:<20} {:>8} {:>14} {:>8}\n", name_of(flaw), flagged, named, count);
    holds = holds && flagged == count && named == count;
  }
  fmt::print("{}\n", holds ? "kept" : "NOT KEPT");
  return holds ? EXIT_SUCCESS : EXIT_FAILURE;
}
