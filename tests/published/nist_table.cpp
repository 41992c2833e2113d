// Prints, for every NIST nonlinear regression set and both of its starts, how many digits of the
// certified values the solver reaches, and whether it says so where it fails.
#include <fmt/format.h>

#include <cstdlib>

#include "tests/published/nist_nonlinear_run.hpp"

namespace {

constexpr double kAcceptable_digits = 4.0;

const char* word_for(const nist::Outcome& outcome) {
  if (outcome.parameter_digits >= kAcceptable_digits) return "right";
  return outcome.offered() ? "WRONG WITHOUT A WORD" : "failed, and says so";
}

}  // namespace

int main() {
  int silent = 0;
  int right = 0;
  int runs = 0;
  fmt::print("{:<10} {:>5} {:>11} {:>11} {:>15}\n", "set", "start", "parameters", "deviations",
             "sum of squares");
  for (const std::string& name : nist::set_names()) {
    const auto set = nist::load_set(name);
    if (!set) {
      fmt::print(stderr, "{}\n", set.error().message);
      return EXIT_FAILURE;
    }
    for (const int start : {1, 2}) {
      const nist::Outcome outcome = nist::solve_set(*set, start == 1 ? set->start_1 : set->start_2);
      const bool is_right = outcome.parameter_digits >= kAcceptable_digits;
      ++runs;
      right += is_right;
      silent += !is_right && outcome.offered();
      fmt::print("{:<10} {:>5} {:>11.1f} {:>11.1f} {:>15.1f}  {}\n", name, start,
                 outcome.parameter_digits, outcome.deviation_digits, outcome.sum_digits,
                 word_for(outcome));
    }
  }
  fmt::print("{} of {} right to {:.0f} digits or more, {} wrong without a word\n", right, runs,
             kAcceptable_digits, silent);
  return silent == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
