// How often the stated 95 % interval of a fit holds the truth, over forks drawn by chance; and how
// often a right fork is called wrong.
//
// Usage: fit_coverage [FORKS [FIRST_SEED]]      fit_coverage --only SEED
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <string>

#include "tests/benchmarks/fit_study/study.hpp"

namespace {

using namespace fit_study;

constexpr int kThreads = 2;
constexpr double kWanted_percent = 90.0;
constexpr double kFlagged_percent_max = 5.0;

const char* word_for(Told told) {
  if (told == Told::yes) return "told";
  return told == Told::not_determined ? "not determined" : "not usable";
}

void print_one(std::uint64_t seed) {
  const Fitted one = fit_drawn(seed, Flaw::none);
  fmt::print("{}\n", DrawnFork(seed).described());
  fmt::print("fork {}: {}, structure {:.2f} N\n", seed, one.usable ? "usable" : "not usable",
             one.structured_N);
  for (int q = 0; q < kQuantityCount; ++q) {
    const Pull& pull = one.pulls[q];
    fmt::print("  {:<24} truth {:9.3f}  fit {:9.3f} +- {:<8.3f} {:+.2f} deviations, {}\n",
               kQuantities[q], pull.truth, pull.value, pull.standard_uncertainty, pull.deviations(),
               word_for(pull.told));
  }
  for (const std::string& text : one.texts) fmt::print("  {}\n", text);
}

bool print_flagged(const std::vector<Fitted>& all) {
  int usable = 0;
  int flagged = 0;
  for (const Fitted& one : all) {
    usable += one.usable;
    flagged += one.flagged;
    if (one.flagged) {
      fmt::print("fork {} flagged: {}\n", one.seed, one.texts.empty() ? "" : one.texts.front());
    }
  }
  const double percent = 100.0 * flagged / double(all.size());
  fmt::print("{} forks, {} usable; {} flagged though right: {:.1f} % (at most {:.0f})\n",
             all.size(), usable, flagged, percent, kFlagged_percent_max);
  return percent <= kFlagged_percent_max;
}

bool print_coverage(const std::vector<Fitted>& all) {
  bool holds = true;
  for (int q = 0; q < kQuantityCount; ++q) {
    const Coverage coverage = count_coverage(all, q);
    fmt::print(
        "{:<24} {:5.1f} % of {} held by the 95 % interval (at least {:.0f}); pulls {:+.2f} mean, "
        "{:.2f} rms; {} not determined, {} not usable\n",
        kQuantities[q], coverage.percent(), coverage.told, kWanted_percent, coverage.mean_pull,
        coverage.rms_pull, coverage.not_determined, coverage.not_usable);
    for (const Fitted& one : all) {
      const Pull& pull = one.pulls[q];
      if (pull.told == Told::yes && std::abs(pull.deviations()) > 3.0) {
        fmt::print("  fork {}: {:+.1f} deviations\n", one.seed, pull.deviations());
      }
    }
    holds = holds && coverage.percent() >= kWanted_percent;
  }
  return holds;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 3 && std::string(argv[1]) == "--only") {
    print_one(std::strtoull(argv[2], nullptr, 10));
    return EXIT_SUCCESS;
  }
  const int count = argc > 1 ? std::atoi(argv[1]) : 500;
  const std::uint64_t first = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
  if (count < 1) {
    fmt::print(stderr, "usage: fit_coverage [FORKS [FIRST_SEED]] | --only SEED\n");
    return EXIT_FAILURE;
  }
  const auto begin = std::chrono::steady_clock::now();
  const std::vector<Fitted> all = fit_many(count, first, Flaw::none, kThreads);
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;
  const bool few_flagged = print_flagged(all);
  const bool covered = print_coverage(all);
  fmt::print("{:.2f} s per fork of four sweeps on {} threads, the sweeping of the plant included\n",
             took.count() / count, kThreads);
  const bool holds = few_flagged && covered;
  fmt::print("{}\n", holds ? "kept" : "NOT KEPT");
  return holds ? EXIT_SUCCESS : EXIT_FAILURE;
}
