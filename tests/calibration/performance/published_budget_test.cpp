// Budgets, degrees of freedom and factors that others have published, through our own budget.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <vector>

#include "calibration/distributions.hpp"
#include "calibration/performance/budget.hpp"

namespace {

using calibration::Budget;
using calibration::BudgetLine;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

constexpr double kInfinite = std::numeric_limits<double>::infinity();

BudgetLine line(double standard_uncertainty, double degrees_of_freedom, double sensitivity = 1.0) {
  BudgetLine line;
  line.standard_uncertainty = standard_uncertainty;
  line.degrees_of_freedom = degrees_of_freedom;
  line.sensitivity = sensitivity;
  return line;
}

TEST_CASE("budget: effective degrees of freedom of three relative uncertainties",
          "[calibration][oracle]") {
  // Source: [GUM] G.4.1, from memory: 0.25 % (9), 0.57 % (4), 0.82 % (14) make 1.03 %, 19 degrees
  // of freedom, t 2.09, 2.2 %.
  const Budget budget = calibration::combine({line(0.25, 9), line(0.57, 4), line(0.82, 14)});
  CHECK_THAT(budget.combined_standard_uncertainty, WithinAbs(1.03, 5e-3));  // two decimals printed
  CHECK_THAT(budget.effective_degrees_of_freedom, WithinAbs(19.0, 0.05));   // one decimal printed
  CHECK_THAT(budget.expanded_uncertainty, WithinAbs(2.2, 0.05));
  // Source: [GUM] G.4.1; recomputed with mpmath.
  CHECK_THAT(budget.combined_standard_uncertainty, WithinRel(1.0294659, 1e-7));  // eight digits
  CHECK_THAT(budget.effective_degrees_of_freedom, WithinRel(18.998742, 1e-7));
  // 18.998 degrees are 18 whole ones.
  CHECK_THAT(budget.coverage_factor, WithinRel(calibration::student_factor(0.95, 18), 1e-12));
}

TEST_CASE("budget: the end gauge", "[calibration][oracle]") {
  // Source: [GUM] H.1: end gauge of 50 mm by comparison, lengths in nm.
  // 5.8, 3.9 and 6.7 are printed; from memory: 13 nm over five readings, 10 nm at 95 % of five
  // degrees of freedom, 20 nm at three sigma.
  const BudgetLine fluctuation = line(13.0 / std::sqrt(5.0), 24);
  const BudgetLine comparator_random = line(10.0 / calibration::student_factor(0.95, 5), 5);
  const BudgetLine comparator_systematic = line(20.0 / 3.0, 8);
  CHECK_THAT(fluctuation.standard_uncertainty, WithinAbs(5.8, 0.05));
  CHECK_THAT(comparator_random.standard_uncertainty, WithinAbs(3.9, 0.05));
  CHECK_THAT(comparator_systematic.standard_uncertainty, WithinAbs(6.7, 0.05));
  const Budget difference =
      calibration::combine({fluctuation, comparator_random, comparator_systematic});
  CHECK_THAT(difference.combined_standard_uncertainty, WithinAbs(9.7, 0.05));  // as printed
  CHECK_THAT(difference.effective_degrees_of_freedom, WithinAbs(25.6, 0.05));

  constexpr double kStandard_nm = 50000623.0;
  const BudgetLine standard = line(25.0, 18);
  // Rectangular, within 0.05 degC and 1e-6 per degC: 0.029 and 0.58e-6.
  const double root_3 = std::sqrt(3.0);
  const BudgetLine temperature_difference = line(0.05 / root_3, 2, -kStandard_nm * 11.5e-6);
  const BudgetLine expansion_difference = line(1e-6 / root_3, 50, -kStandard_nm * -0.1);
  const Budget budget =
      calibration::combine({standard, fluctuation, comparator_random, comparator_systematic,
                            temperature_difference, expansion_difference},
                           0.99);
  CHECK_THAT(budget.combined_standard_uncertainty, WithinAbs(32.0, 0.5));  // whole nm printed
  CHECK(std::floor(budget.effective_degrees_of_freedom) == 16.0);
  CHECK_THAT(budget.coverage_factor, WithinAbs(2.92, 5e-3));
  CHECK_THAT(budget.expanded_uncertainty, WithinAbs(93.0, 1.0));
  // Source: [GUM] H.1 budget of contributions as the GTC documentation lists them.
  CHECK_THAT(budget.lines[4].contribution, WithinAbs(16.599, 1e-3));  // three decimals printed
  CHECK_THAT(budget.lines[5].contribution, WithinAbs(2.88679, 1e-5));
  // Source: [GUM] H.1; recomputed with mpmath, from inputs of one decimal.
  CHECK_THAT(budget.combined_standard_uncertainty, WithinAbs(31.671, 0.02));
  CHECK_THAT(budget.effective_degrees_of_freedom, WithinAbs(16.76, 0.02));
  CHECK_THAT(budget.coverage_factor, WithinRel(2.92078, 1e-5));  // six digits
}

TEST_CASE("budget: an X-ray intensity by comparison", "[calibration][oracle]") {
  // Source: [Suncal-Xray] 0.1820 (u .00093, 9) / 0.1823 (u .00058, 19) * 0.6978 (u .0026, 19):
  // 0.6967, u 0.00494, 27.7 degrees of freedom, U 0.0101.
  constexpr double kValue = .1820 / .1823 * .6978;
  const Budget budget =
      calibration::combine({line(.00093, 9, kValue / .1820), line(.00058, 19, -kValue / .1823),
                            line(.0026, 19, kValue / .6978)});
  // Because the inputs are printed with two digits of their uncertainty: 0.3 % and 1 %.
  CHECK_THAT(budget.combined_standard_uncertainty, WithinAbs(.00494, 1.5e-5));
  CHECK_THAT(budget.effective_degrees_of_freedom, WithinAbs(27.7, 0.3));
  CHECK_THAT(budget.expanded_uncertainty, WithinAbs(.0101, 6e-5));
}

TEST_CASE("budget: lines that rest on one estimate of variance count as one",
          "[calibration][oracle]") {
  // Source: [Willink2008] three values of u 0.1 and 2 degrees of freedom each, interpolated at 2/3:
  // variance 5 u^2 / 9, degrees of freedom 25 * 2 / 17.
  const Budget apart = calibration::combine({line(0.1, 2, 1.0 / 3.0), line(0.1, 2, 2.0 / 3.0)});
  CHECK_THAT(std::pow(apart.combined_standard_uncertainty, 2), WithinRel(5.0 / 900.0, 1e-12));
  CHECK_THAT(apart.effective_degrees_of_freedom, WithinRel(50.0 / 17.0, 1e-12));  // exact
  // From one estimate the sum is known no better than it is.
  BudgetLine first = line(0.3, 7);
  BudgetLine second = line(0.4, 7);
  first.pool = second.pool = 1;
  const Budget together = calibration::combine({first, second});
  CHECK_THAT(together.combined_standard_uncertainty, WithinRel(0.5, 1e-12));
  CHECK_THAT(together.effective_degrees_of_freedom, WithinRel(7.0, 1e-12));
}

TEST_CASE("budget: sources without doubt about themselves leave the normal factor",
          "[calibration]") {
  const Budget budget = calibration::combine({line(3.0, kInfinite), line(4.0, kInfinite)});
  CHECK(std::isinf(budget.effective_degrees_of_freedom));
  CHECK_THAT(budget.coverage_factor, WithinAbs(1.959964, 1e-6));  // of the normal distribution
  CHECK_THAT(budget.expanded_uncertainty, WithinRel(5.0 * budget.coverage_factor, 1e-12));
}

TEST_CASE("distributions: rows of Student's table", "[calibration][oracle]") {
  // Source: [GUM] Table G.2 (two decimals printed); four decimals recomputed with SciPy.
  struct Row {
    double degrees;
    std::array<double, 6> factors;
  };
  constexpr std::array<double, 6> kCoverages = {0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973};
  constexpr std::array<Row, 7> kRows = {{
      {1, {1.8374, 6.3138, 12.7062, 13.9678, 63.6567, 235.7837}},
      {2, {1.3213, 2.9200, 4.3027, 4.5266, 9.9248, 19.2060}},
      {5, {1.1105, 2.0150, 2.5706, 2.6487, 4.0321, 5.5070}},
      {10, {1.0526, 1.8125, 2.2281, 2.2837, 3.1693, 3.9569}},
      {20, {1.0257, 1.7247, 2.0860, 2.1330, 2.8453, 3.4221}},
      {50, {1.0101, 1.6759, 2.0086, 2.0513, 2.6778, 3.1571}},
      {100, {1.0050, 1.6602, 1.9840, 2.0253, 2.6259, 3.0767}},
  }};
  for (const Row& row : kRows) {
    for (size_t i = 0; i < kCoverages.size(); ++i) {
      CAPTURE(row.degrees, kCoverages[i]);
      CHECK_THAT(calibration::student_factor(kCoverages[i], row.degrees),
                 WithinAbs(row.factors[i], 1.01e-4));  // the last decimal
    }
  }
  CHECK_THAT(calibration::student_factor(0.95, kInfinite), WithinAbs(1.9600, 5.1e-5));
  CHECK_THAT(calibration::student_factor(0.99, kInfinite), WithinAbs(2.5758, 5.1e-5));
}

}  // namespace
