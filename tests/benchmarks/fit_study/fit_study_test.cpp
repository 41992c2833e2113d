// A sample of what the programs fit_coverage and wrong_plants count, and that the count can tell.
#include <catch2/catch.hpp>

#include "tests/benchmarks/fit_study/study.hpp"

namespace {

using namespace fit_study;

constexpr int kForks = 16;
constexpr int kForksPerFlaw = 2;
constexpr int kThreads = 2;
// Of the whole study: of the intervals, and of sound forks that may be called wrong.
constexpr double kCovered = 0.90;
constexpr double kFlagged = 0.05;
// Others than the programs' own.
constexpr std::uint64_t kFirstSeed = 20261101;

TEST_CASE("fit: the stated interval holds the truth of drawn forks, and sound ones pass", "[fit]") {
  const std::vector<Fitted> all = fit_many(kForks, kFirstSeed, Flaw::none, kThreads);
  int flagged = 0;
  for (const Fitted& one : all) flagged += one.flagged;
  CHECK(flagged <= most_by_chance(kForks, kFlagged));
  for (int q = 0; q < kQuantityCount; ++q) {
    const Coverage coverage = count_coverage(all, q);
    CAPTURE(kQuantities[q], coverage.told, coverage.covered, coverage.rms_pull);
    CHECK(coverage.told > kForks / 2);
    CHECK(coverage.covered >= fewest_by_chance(coverage.told, kCovered));
    // Intervals that hold everything would hold nothing back.
    CHECK(count_coverage(all, q, 0.1).covered < coverage.covered);
  }
}

TEST_CASE("fit: whatever is wrong is said, and where", "[fit]") {
  for (Flaw flaw : kFlaws) {
    for (const Fitted& one : fit_many(kForksPerFlaw, kFirstSeed, flaw, kThreads)) {
      CAPTURE(name_of(flaw), one.seed, one.texts);
      CHECK(one.flagged);
      CHECK(one.place_named);
    }
  }
}

}  // namespace
