#include "calibration/monte_carlo.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "protocol/error.hpp"

namespace calibration {

double Draws::uniform() {
  constexpr double kUnit = 1.0 / 9007199254740992.0;  // 2^-53
  return (static_cast<double>(random_() >> 11) + 0.5) * kUnit;
}

double Draws::normal(double mean, double standard_deviation) {
  // Box and Muller's; the second of the pair is let go, for the sake of one order of draws.
  const double radius = std::sqrt(-2.0 * std::log(uniform()));
  return mean + standard_deviation * radius * std::cos(2.0 * std::numbers::pi * uniform());
}

double Draws::rectangular(double low, double high) {
  return low + (high - low) * uniform();
}

MonteCarlo propagate(const std::function<double(Draws&)>& model, int trials, uint64_t seed,
                     double coverage) {
  constexpr int kTrialsMin = 100;
  ENSURE(trials >= kTrialsMin && coverage > 0.0 && coverage < 1.0);
  Draws draws(seed);
  std::vector<double> values(static_cast<size_t>(trials));
  for (double& value : values) value = model(draws);
  MonteCarlo result;
  result.trials = trials;
  double excess = 0.0;
  for (const double value : values) excess += value - values.front();
  result.mean = values.front() + excess / trials;
  double squares = 0.0;
  for (const double value : values) squares += (value - result.mean) * (value - result.mean);
  result.standard_uncertainty = std::sqrt(squares / (trials - 1));

  std::sort(values.begin(), values.end());
  const auto within = static_cast<size_t>(std::lround(coverage * trials));
  size_t best = 0;
  for (size_t i = 0; i + within < values.size(); ++i) {
    if (values[i + within] - values[i] < values[best + within] - values[best]) best = i;
  }
  result.low = values[best];
  result.high = values[best + within];
  return result;
}

double numerical_tolerance(double standard_uncertainty, int digits) {
  ENSURE(standard_uncertainty > 0.0 && digits >= 1);
  // u = c * 10^l with c a whole number of so many digits.
  int exponent = static_cast<int>(std::floor(std::log10(standard_uncertainty))) - (digits - 1);
  // 0.0996 rounds to 0.10, one place up.
  if (std::round(standard_uncertainty / std::pow(10.0, exponent)) >= std::pow(10.0, digits)) {
    ++exponent;
  }
  return 0.5 * std::pow(10.0, exponent);
}

Validation validate_interval(double value, double expanded_uncertainty, double standard_uncertainty,
                             const MonteCarlo& trials, int digits) {
  Validation validation;
  validation.low_difference = std::abs(value - expanded_uncertainty - trials.low);
  validation.high_difference = std::abs(value + expanded_uncertainty - trials.high);
  validation.tolerance = numerical_tolerance(standard_uncertainty, digits);
  validation.agrees = validation.low_difference <= validation.tolerance &&
                      validation.high_difference <= validation.tolerance;
  return validation;
}

}  // namespace calibration
