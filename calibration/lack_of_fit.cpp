#include "calibration/lack_of_fit.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

#include "calibration/distributions.hpp"

namespace calibration {
namespace {

struct Group {
  double sum = 0.0;
  double count = 0.0;
  double mean() const { return sum / count; }
};

std::vector<Group> group_residuals(const std::vector<double>& residuals,
                                   std::span<const int> groups) {
  std::vector<Group> result(static_cast<size_t>(*std::max_element(groups.begin(), groups.end())) +
                            1);
  for (size_t i = 0; i < residuals.size(); ++i) {
    Group& group = result[static_cast<size_t>(groups[i])];
    group.sum += residuals[i];
    group.count += 1.0;
  }
  return result;
}

// Of repeats that differ by no more than the arithmetic's last digits.
bool is_rounding(double standard_deviation, std::span<const double> y) {
  constexpr double kRoundingRelative = 1e-13;
  double largest = 0.0;
  for (const double value : y) largest = std::max(largest, std::abs(value));
  return standard_deviation <= kRoundingRelative * largest;
}

}  // namespace

double LackOfFit::replication_standard_deviation() const {
  return std::sqrt(pure_error_sum_of_squares / pure_error_degrees_of_freedom);
}

std::optional<LackOfFit> compute_lack_of_fit(const PolynomialFit& fit, std::span<const double> x,
                                             std::span<const double> y) {
  ENSURE(x.size() == y.size());
  std::map<double, int> known;
  std::vector<int> groups;
  for (const double place : x) {
    const auto next = static_cast<int>(known.size());
    groups.push_back(known.try_emplace(place, next).first->second);
  }
  return compute_lack_of_fit(fit, y, groups, groups);
}

std::optional<LackOfFit> compute_lack_of_fit(const PolynomialFit& fit, std::span<const double> y,
                                             std::span<const int> loads,
                                             std::span<const int> cells) {
  ENSURE(y.size() == fit.residuals.size() && loads.size() == y.size() && cells.size() == y.size());
  // Residuals in place of y: at one x they differ by the same constant, and are smaller.
  const std::vector<Group> by_load = group_residuals(fit.residuals, loads);
  const std::vector<Group> by_cell = group_residuals(fit.residuals, cells);
  LackOfFit result;
  for (const Group& load : by_load) {
    result.sum_of_squares += load.count * load.mean() * load.mean();
  }
  for (size_t i = 0; i < cells.size(); ++i) {
    const double own = fit.residuals[i] - by_cell[static_cast<size_t>(cells[i])].mean();
    result.pure_error_sum_of_squares += own * own;
  }
  const int readings = static_cast<int>(y.size());
  const int parameters = readings - fit.degrees_of_freedom;
  result.pure_error_degrees_of_freedom = readings - static_cast<int>(by_cell.size());
  result.degrees_of_freedom = static_cast<int>(by_load.size()) - parameters;
  if (result.pure_error_degrees_of_freedom < 1 || result.degrees_of_freedom < 1) {
    return std::nullopt;
  }
  if (is_rounding(result.replication_standard_deviation(), y)) return std::nullopt;
  const double pure_error = result.pure_error_sum_of_squares / result.pure_error_degrees_of_freedom;
  result.F = result.sum_of_squares / result.degrees_of_freedom / pure_error;
  result.probability =
      fisher_upper_tail(result.F, result.degrees_of_freedom, result.pure_error_degrees_of_freedom);
  return result;
}

}  // namespace calibration
