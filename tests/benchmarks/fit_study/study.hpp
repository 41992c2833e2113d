// Many drawn forks fitted, and what came of it counted.
#pragma once

#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include "tests/benchmarks/fit_study/drawn_fork.hpp"

namespace fit_study {

// What a fit may say of a quantity. Only what it told can be missed; what it did not is counted.
enum class Told { yes, not_determined, not_usable };

// One quantity of one fork.
struct Pull {
  double truth = 0.0;
  double value = 0.0;
  double standard_uncertainty = 0.0;
  Told told = Told::not_determined;

  double deviations() const { return (value - truth) / standard_uncertainty; }
  // interval_scale: 0.5 for an interval half as wide as stated, which must show.
  bool covered(double interval_scale = 1.0) const {
    return std::abs(deviations()) <= 2.0 * interval_scale;  // k = 2: 95 %
  }
};

inline constexpr const char* kQuantities[] = {"positive volume", "friction at mid travel",
                                              "preload", "force at sag"};
inline constexpr int kQuantityCount = 4;

struct Fitted {
  std::uint64_t seed = 0;
  bool usable = false;
  bool flagged = false;      // some misfit was named, or the fit was refused
  bool place_named = false;  // a misfit lies where the flaw is
  double structured_N = 0.0;
  Pull pulls[kQuantityCount];
  std::vector<std::string> texts;  // of misfits and warnings
};

Fitted fit_drawn(std::uint64_t seed, Flaw flaw);

// Seeds first, first + 1, ..., from a few threads.
std::vector<Fitted> fit_many(int count, std::uint64_t first, Flaw flaw, int threads);

struct Coverage {
  int told = 0;
  int covered = 0;
  int not_determined = 0;
  int not_usable = 0;
  double mean_pull = 0.0;
  double rms_pull = 0.0;

  double percent() const { return told > 0 ? 100.0 * covered / told : 0.0; }
};
Coverage count_coverage(const std::vector<Fitted>& all, int quantity, double interval_scale = 1.0);

// The fewest, and the most, successes of n that happen by chance at least once in a hundred times,
// each with this chance.
int fewest_by_chance(int n, double chance);
int most_by_chance(int n, double chance);

}  // namespace fit_study
