// A seeded sample of what the programs fit_coverage and wrong_plants count.
//
// The bounds are binomial: what a fit of exactly the promised quality falls short of once in a
// hundred times. The seeds are fixed, so a failure is a change of the fit, never the day's luck.
#include <catch2/catch.hpp>

#include "tests/benchmarks/fit_study/study.hpp"

namespace {

using namespace fit_study;

// Fewer where each costs thirty times as much; set by the build.
constexpr int kForks = SPRINGWRIGHT_STUDY_FORKS;
constexpr int kForksPerFlaw = SPRINGWRIGHT_STUDY_FORKS_PER_FLAW;
constexpr std::uint64_t kFirst = 1;
constexpr std::uint64_t kFirstFlawed = 1000;
constexpr int kThreads = 2;
constexpr double kCovered = 0.90;
constexpr double kFlagged = 0.05;
constexpr double kTold = 0.80;  // a fit that tells nothing is never wrong

const std::vector<Fitted>& sound_forks() {
  static const std::vector<Fitted> all = fit_many(kForks, kFirst, Flaw::none, kThreads);
  return all;
}

TEST_CASE("fit: the stated interval holds the truth of drawn forks as often as promised", "[fit]") {
  for (int q = 0; q < kQuantityCount; ++q) {
    const Coverage coverage = count_coverage(sound_forks(), q);
    CAPTURE(kQuantities[q], coverage.told, coverage.covered, coverage.mean_pull, coverage.rms_pull);
    CHECK(coverage.told >= fewest_by_chance(kForks, kTold));
    CHECK(coverage.covered >= fewest_by_chance(coverage.told, kCovered));
  }
}

TEST_CASE("fit: a tenth of the stated interval would be found out", "[fit]") {
  int told = 0;
  int covered = 0;
  for (int q = 0; q < kQuantityCount; ++q) {
    const Coverage coverage = count_coverage(sound_forks(), q, 0.1);
    told += coverage.told;
    covered += coverage.covered;
  }
  CHECK(covered < fewest_by_chance(told, kCovered));
}

TEST_CASE("fit: right forks are seldom called wrong", "[fit]") {
  int flagged = 0;
  for (const Fitted& one : sound_forks()) flagged += one.flagged;
  CHECK(flagged <= most_by_chance(kForks, kFlagged));
}

TEST_CASE("fit: what is wrong with a fork or a bench is found out, and where", "[fit]") {
  for (Flaw flaw : kFlaws) {
    for (const Fitted& one : fit_many(kForksPerFlaw, kFirstFlawed, flaw, kThreads)) {
      CAPTURE(name_of(flaw), one.seed, one.texts);
      CHECK(one.flagged);
      CHECK(one.place_named);
    }
  }
}

TEST_CASE("fit study: bounds by chance are those of a binomial", "[fit]") {
  // 12 of 0.9: seven or fewer in 0.4 % of cases, eight or fewer in 2.6 %.
  CHECK(fewest_by_chance(12, 0.9) == 8);
  // 12 of 0.05: three or more in 2.0 % of cases, four or more in 0.2 %.
  CHECK(most_by_chance(12, 0.05) == 3);
  CHECK(fewest_by_chance(0, 0.9) == 0);
}

}  // namespace
