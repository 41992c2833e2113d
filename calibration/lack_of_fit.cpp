#include "calibration/lack_of_fit.hpp"

#include <cmath>
#include <map>
#include <vector>

#include "calibration/distributions.hpp"

namespace calibration {

double LackOfFit::replication_standard_deviation() const {
  return std::sqrt(pure_error_sum_of_squares / pure_error_degrees_of_freedom);
}

std::optional<LackOfFit> compute_lack_of_fit(const PolynomialFit& fit, std::span<const double> x,
                                             std::span<const double> y) {
  ENSURE(x.size() == y.size() && x.size() == fit.residuals.size());
  // Residuals in place of y: at one x they differ by the same constant, and are smaller.
  std::map<double, std::vector<double>> groups;
  for (size_t i = 0; i < x.size(); ++i) groups[x[i]].push_back(fit.residuals[i]);
  LackOfFit result;
  for (const auto& [place, members] : groups) {
    double mean = 0.0;
    for (const double member : members) mean += member;
    mean /= static_cast<double>(members.size());
    for (const double member : members) {
      result.pure_error_sum_of_squares += (member - mean) * (member - mean);
    }
    result.sum_of_squares += static_cast<double>(members.size()) * mean * mean;
  }
  result.pure_error_degrees_of_freedom = static_cast<int>(x.size() - groups.size());
  result.degrees_of_freedom = fit.degrees_of_freedom - result.pure_error_degrees_of_freedom;
  if (result.pure_error_degrees_of_freedom < 1 || result.degrees_of_freedom < 1) {
    return std::nullopt;
  }
  const double pure_error = result.pure_error_sum_of_squares / result.pure_error_degrees_of_freedom;
  if (!(pure_error > 0.0)) return std::nullopt;
  result.F = result.sum_of_squares / result.degrees_of_freedom / pure_error;
  result.probability =
      fisher_upper_tail(result.F, result.degrees_of_freedom, result.pure_error_degrees_of_freedom);
  return result;
}

}  // namespace calibration
