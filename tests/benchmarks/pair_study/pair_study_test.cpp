// A sample of what the program compare_pairs counts.
#include <catch2/catch.hpp>

#include "tests/benchmarks/fit_study/study.hpp"
#include "tests/benchmarks/pair_study/pair_study.hpp"

namespace {

using namespace pair_study;

constexpr int kPairs = 8;
constexpr int kThreads = 2;
// Others than the program's own.
constexpr std::uint64_t kFirstSeed = 20261101;

TEST_CASE("comparison: crossovers lie where they are said, and no span is called firmer wrongly",
          "[compare]") {
  int crossovers = 0, held = 0, firmer = 0;
  for (const Compared& one : many(compare_drawn, kPairs, kFirstSeed, kThreads)) {
    CAPTURE(one.seed);
    CHECK(one.usable);
    CHECK(one.wrong == 0);
    crossovers += one.crossovers;
    held += one.held;
    firmer += one.firmer;
  }
  CHECK(firmer >= kPairs);
  CHECK(held >= fit_study::fewest_by_chance(crossovers, 0.90));
}

TEST_CASE("comparison: a fork mounted anew is not called another", "[compare]") {
  int different = 0;
  for (const SameFork& one : many(compare_with_itself, kPairs, kFirstSeed, kThreads)) {
    different += one.called_different;
  }
  CHECK(different <= fit_study::most_by_chance(kPairs, 0.05));
}

TEST_CASE("comparison: set as told, a fork shows what was promised", "[compare]") {
  int thirds = 0, kept = 0;
  for (const Promise& one : many(match_drawn, kPairs / 2, kFirstSeed, kThreads)) {
    thirds += one.thirds;
    kept += one.kept;
  }
  CHECK(thirds >= 3 * kPairs / 4);
  CHECK(kept >= fit_study::fewest_by_chance(thirds, 0.90));
}

}  // namespace
