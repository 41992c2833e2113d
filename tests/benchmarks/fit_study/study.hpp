// Many drawn forks fitted, and what came of it counted.
#pragma once

#include <string>
#include <vector>

#include "tests/benchmarks/fit_study/drawn_fork.hpp"

namespace fit_study {

// One quantity of one fork.
struct Pull {
  double truth = 0.0;
  double value = 0.0;
  double standard_uncertainty = 0.0;
  bool told = false;  // false: honestly not determined, or the fit is not usable

  double deviations() const { return (value - truth) / standard_uncertainty; }
  bool covered() const { return told && std::abs(deviations()) <= 2.0; }
};

inline constexpr const char* kQuantities[] = {"positive volume", "friction at mid travel",
                                              "preload", "force at sag"};
inline constexpr int kQuantityCount = 4;

struct Fitted {
  std::uint64_t seed = 0;
  bool usable = false;
  bool flagged = false;      // some misfit was named, or the fit was refused
  bool place_named = false;  // a misfit overlaps where the flaw is
  double structured_N = 0.0;
  Pull pulls[kQuantityCount];
  std::vector<std::string> texts;  // of misfits and warnings
};

Fitted fit_drawn(std::uint64_t seed, Flaw flaw);

// Seeds first, first + 1, ..., from a few threads.
std::vector<Fitted> fit_many(int count, std::uint64_t first, Flaw flaw, int threads);

}  // namespace fit_study
