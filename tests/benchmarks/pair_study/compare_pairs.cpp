// How often what a comparison says is so, over pairs of forks drawn by chance: crossovers, spans,
// forks that are the same, and the setting that was told.
//
// Usage: compare_pairs [PAIRS [FIRST_SEED]]
#include <fmt/format.h>

#include <cstdlib>

#include "tests/benchmarks/pair_study/pair_study.hpp"

namespace {

using namespace pair_study;

constexpr int kThreads = 2;
constexpr double kHeld_percent = 90.0;
constexpr double kCalledDifferent_percent_max = 5.0;
constexpr double kKept_percent = 90.0;

double percent(int some, int all) {
  return all > 0 ? 100.0 * some / all : 0.0;
}

bool print_pairs(const std::vector<Compared>& all) {
  int usable = 0, crossovers = 0, held = 0, firmer = 0, wrong = 0;
  for (const Compared& one : all) {
    usable += one.usable;
    crossovers += one.crossovers;
    held += one.held;
    firmer += one.firmer;
    wrong += one.wrong;
    if (one.wrong > 0 || one.held < one.crossovers) {
      fmt::print("  pair {}: {} of {} crossovers held, {} of {} spans wrong\n", one.seed, one.held,
                 one.crossovers, one.wrong, one.firmer);
    }
  }
  fmt::print("{} pairs, {} usable\n", all.size(), usable);
  fmt::print("crossovers: {:.1f} % of {} held by the 95 % interval (at least {:.0f})\n",
             percent(held, crossovers), crossovers, kHeld_percent);
  fmt::print("spans: {} of {} called firmer where the truth is the other way (none)\n", wrong,
             firmer);
  return percent(held, crossovers) >= kHeld_percent && wrong == 0;
}

bool print_same(const std::vector<SameFork>& all) {
  int usable = 0, different = 0;
  for (const SameFork& one : all) {
    usable += one.usable;
    different += one.called_different;
  }
  fmt::print("the same fork twice: {} of {} called different, {:.1f} % (at most {:.0f})\n",
             different, usable, percent(different, usable), kCalledDifferent_percent_max);
  return percent(different, usable) <= kCalledDifferent_percent_max;
}

bool print_promises(const std::vector<Promise>& all) {
  int pairs = 0, thirds = 0, kept = 0;
  for (const Promise& one : all) {
    pairs += one.thirds > 0;
    thirds += one.thirds;
    kept += one.kept;
  }
  fmt::print(
      "set as told: {:.1f} % of {} thirds of {} pairs as promised, k = 2 (at least {:.0f})\n",
      percent(kept, thirds), thirds, pairs, kKept_percent);
  return percent(kept, thirds) >= kKept_percent;
}

}  // namespace

int main(int argc, char** argv) {
  const int count = argc > 1 ? std::atoi(argv[1]) : 200;
  const std::uint64_t first = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
  if (count < 1) {
    fmt::print(stderr, "usage: compare_pairs [PAIRS [FIRST_SEED]]\n");
    return EXIT_FAILURE;
  }
  const bool pairs = print_pairs(many(compare_drawn, count, first, kThreads));
  const bool same = print_same(many(compare_with_itself, count, first, kThreads));
  const bool promises = print_promises(many(match_drawn, (count + 1) / 2, first, kThreads));
  const bool holds = pairs && same && promises;
  fmt::print("{}\n", holds ? "kept" : "NOT KEPT");
  return holds ? EXIT_SUCCESS : EXIT_FAILURE;
}
