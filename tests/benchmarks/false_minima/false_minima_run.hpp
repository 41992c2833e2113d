// One sweep of one fork, fitted again and again from elsewhere: does the fit find the true minimum,
// and does it say so where it does not?
//
// A single sweep without a clock is known to have a second minimum, with an exponent far too high
// and a volume to match. A start is a fork file whose volumes and transfer travel lie up to 30 %
// off, by chance, and a seed of its own for the starts that the fit draws around it.
#pragma once

#include <cstdint>
#include <vector>

#include "protocol/record/sweep_record.hpp"

namespace false_minima {

// 4,000 samples of noise 1.5 N, without a clock (the law with an exponent) or with one (heat).
protocol::SweepRecord sweep_by_exponent();
protocol::SweepRecord sweep_by_heat();

enum class Ending {
  reached,  // usable, and the positive volume is the true one to 10 %
  wide,     // usable, further off, but within three of its standard uncertainties
  refused,  // not usable, and says so
  wrong     // usable, and neither: a false minimum given out as the answer
};

struct Run {
  std::uint64_t seed = 0;
  Ending ending = Ending::wrong;
  double volume_ratio = 0.0;  // fitted over true
  double rms_N = 0.0;
};

// alone: a single solve from the fork file's values, as if there were no other starts.
Run run_from(const protocol::SweepRecord& record, double true_volume_cm3, std::uint64_t seed,
             bool alone);

struct Count {
  int runs = 0;
  int reached = 0;
  int wide = 0;
  int refused = 0;
  int wrong = 0;
  std::vector<Run> others;  // all that did not reach it

  double reached_percent() const { return runs > 0 ? 100.0 * reached / runs : 0.0; }
};
// Seeds 1, 2, ..., from two threads.
Count count_exponent(int runs, bool alone = false);
Count count_heat(int runs, bool alone = false);

}  // namespace false_minima
