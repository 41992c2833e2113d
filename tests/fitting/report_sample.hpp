// Two invented forks, Larch and Basalt, with all that a report is made of: records, models, answers
// and comparisons. The curves come from a plain spring law of its own, so that no part of the
// program has to run for a report to be looked at.
#pragma once

#include "fitting/report/comparison_report.hpp"

namespace tests {

struct SampleNames {
  std::string a = "Larch 160";
  std::string b = "Basalt 160";
  std::string title = "Larch 160 against Basalt 160";
};

fitting::ComparisonInput sample_comparison(const SampleNames& names = {});

}  // namespace tests
