// How often the stated 95 % interval of a fit holds the truth, over forks drawn by chance; and how
// often a right fork is called wrong.
//
// Usage: fit_coverage [FORKS [FIRST_SEED]]      fit_coverage --only SEED
#include <fmt/format.h>

#include <cstdlib>
#include <string>

#include "tests/benchmarks/fit_study/study.hpp"

namespace {

using namespace fit_study;

void print_one(std::uint64_t seed) {
  const Fitted one = fit_drawn(seed, Flaw::none);
  fmt::print("fork {}: {}, structure {:.2f} N\n", seed, one.usable ? "usable" : "not usable",
             one.structured_N);
  for (int q = 0; q < kQuantityCount; ++q) {
    const Pull& pull = one.pulls[q];
    fmt::print("  {:<24} truth {:9.3f}  {} {:9.3f} +- {:<8.3f} {:+.2f} deviations\n",
               kQuantities[q], pull.truth, pull.told ? "fit" : "not told", pull.value,
               pull.standard_uncertainty, pull.deviations());
  }
  for (const std::string& text : one.texts) fmt::print("  {}\n", text);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 3 && std::string(argv[1]) == "--only") {
    print_one(std::strtoull(argv[2], nullptr, 10));
    return 0;
  }
  const int count = argc > 1 ? std::atoi(argv[1]) : 500;
  const std::uint64_t first = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
  const std::vector<Fitted> all = fit_many(count, first, Flaw::none, 2);
  int usable = 0;
  int flagged = 0;
  for (const Fitted& one : all) {
    usable += one.usable;
    flagged += one.flagged;
    if (one.flagged) {
      fmt::print("fork {} flagged: {}\n", one.seed, one.texts.empty() ? "" : one.texts.front());
    }
  }
  fmt::print("{} forks, {} usable, {} flagged though right ({:.1f} %, wanted at most 5)\n", count,
             usable, flagged, 100.0 * flagged / count);
  bool holds = flagged <= 0.05 * count;
  for (int q = 0; q < kQuantityCount; ++q) {
    int told = 0;
    int covered = 0;
    double sum = 0.0;
    double square = 0.0;
    for (const Fitted& one : all) {
      if (!one.pulls[q].told) continue;
      ++told;
      covered += one.pulls[q].covered();
      sum += one.pulls[q].deviations();
      square += one.pulls[q].deviations() * one.pulls[q].deviations();
    }
    const double mean = told > 0 ? sum / told : 0.0;
    const double share = told > 0 ? 100.0 * covered / told : 0.0;
    fmt::print(
        "{:<24} {:5.1f} % of {} told held by the 95 % interval (wanted 90); pulls {:+.2f} "
        "mean, {:.2f} rms\n",
        kQuantities[q], share, told, mean, told > 0 ? std::sqrt(square / told) : 0.0);
    holds = holds && share >= 90.0;
  }
  fmt::print("{}\n", holds ? "kept" : "NOT KEPT");
  return holds ? EXIT_SUCCESS : EXIT_FAILURE;
}
