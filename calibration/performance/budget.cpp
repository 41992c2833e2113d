#include "calibration/performance/budget.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "calibration/distributions.hpp"
#include "calibration/performance/doubt.hpp"

namespace calibration {
namespace {

// Variances that rest on one estimate are one term of the formula.
double effective_degrees(const std::vector<BudgetLine>& lines, double variance) {
  std::map<int, std::pair<double, double>> pools;  // variance, degrees of freedom
  double sum = 0.0;
  for (const BudgetLine& line : lines) {
    const double own = line.contribution * line.contribution;
    if (line.pool == 0) {
      sum += own * own / line.degrees_of_freedom;
      continue;
    }
    auto& [pooled, degrees] =
        pools.try_emplace(line.pool, 0.0, line.degrees_of_freedom).first->second;
    pooled += own;
    degrees = std::min(degrees, line.degrees_of_freedom);
  }
  for (const auto& [pool, term] : pools) sum += term.first * term.first / term.second;
  return sum > 0.0 ? variance * variance / sum : std::numeric_limits<double>::infinity();
}

}  // namespace

Budget combine(std::vector<BudgetLine> lines, double coverage) {
  Budget budget;
  double variance = 0.0;
  for (BudgetLine& line : lines) {
    ENSURE(line.degrees_of_freedom > 0.0);
    line.contribution = std::abs(line.sensitivity) * line.standard_uncertainty;
    variance += line.contribution * line.contribution;
  }
  budget.combined_standard_uncertainty = std::sqrt(variance);
  budget.effective_degrees_of_freedom = effective_degrees(lines, variance);
  budget.coverage_factor =
      student_factor(coverage, std::max(1.0, std::floor(budget.effective_degrees_of_freedom)));
  budget.expanded_uncertainty = budget.coverage_factor * budget.combined_standard_uncertainty;
  budget.lines = std::move(lines);
  return budget;
}

Budget budget_of_reading(const Calibration& calibration, double reading,
                         std::optional<double> zero_reading, double coverage) {
  Budget budget = combine(doubt_lines(calibration, reading, zero_reading), coverage);
  budget.at = reading;
  budget.value =
      calibration.value(reading) - (zero_reading ? calibration.value(*zero_reading) : 0.0);
  return budget;
}

Budget budget_at(const Calibration& calibration, double value) {
  const protocol::Result<double> reading = calibration.reading_at(value);
  if (reading) return budget_of_reading(calibration, *reading);
  // A curve that never reaches the value is taken on along its chord.
  return budget_of_reading(calibration, calibration.reading_on_chord(value));
}

}  // namespace calibration
