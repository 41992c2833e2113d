// Whether a fit finds out that something is wrong, and says where.
//
// Usage: wrong_plants [FORKS_PER_FLAW [FIRST_SEED]]      wrong_plants --only FLAW_NUMBER SEED
#include <fmt/format.h>

#include <cstdlib>
#include <iterator>
#include <string>

#include "tests/benchmarks/fit_study/study.hpp"

namespace {

using namespace fit_study;

void print_one(Flaw flaw, std::uint64_t seed) {
  const DrawnFork fork(seed, flaw);
  const Fitted one = fit_drawn(seed, flaw);
  fmt::print("{}\n{} between {:.0f} and {:.0f} mm: {}, {}\n", fork.described(), name_of(flaw),
             1e3 * fork.place().from_m, 1e3 * fork.place().to_m,
             one.usable ? "usable" : "not usable",
             one.place_named ? "place named" : "place not named");
  for (const std::string& text : one.texts) fmt::print("  {}\n", text);
}

bool print_flaw(Flaw flaw, int count, std::uint64_t first) {
  int flagged = 0;
  int named = 0;
  int refused = 0;
  for (const Fitted& one : fit_many(count, first, flaw, 2)) {
    flagged += one.flagged;
    named += one.place_named;
    refused += !one.usable;
    if (one.flagged && one.place_named) continue;
    const Place place = DrawnFork(one.seed, flaw).place();
    fmt::print("  fork {}, {:.0f} to {:.0f} mm: {}\n", one.seed, 1e3 * place.from_m,
               1e3 * place.to_m, one.texts.empty() ? "nothing said" : one.texts.front());
  }
  fmt::print("{:<20} {:>8} {:>14} {:>12} {:>6}\n", name_of(flaw), flagged, named, refused, count);
  return flagged == count && named == count;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 4 && std::string(argv[1]) == "--only") {
    const auto at = static_cast<std::size_t>(std::strtoull(argv[2], nullptr, 10));
    if (at < std::size(kFlaws)) print_one(kFlaws[at], std::strtoull(argv[3], nullptr, 10));
    return at < std::size(kFlaws) ? EXIT_SUCCESS : EXIT_FAILURE;
  }
  const int count = argc > 1 ? std::atoi(argv[1]) : 20;
  const std::uint64_t first = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1000;
  if (count < 1) {
    fmt::print(stderr, "usage: wrong_plants [FORKS_PER_FLAW [FIRST_SEED]] | --only FLAW SEED\n");
    return EXIT_FAILURE;
  }
  fmt::print("{:<20} {:>8} {:>14} {:>12} {:>6}\n", "flaw", "flagged", "place named", "not usable",
             "of");
  bool holds = true;
  for (Flaw flaw : kFlaws) holds = print_flaw(flaw, count, first) && holds;
  fmt::print("{}\n", holds ? "kept" : "NOT KEPT");
  return holds ? EXIT_SUCCESS : EXIT_FAILURE;
}
