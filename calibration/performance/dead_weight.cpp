#include "calibration/performance/dead_weight.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calibration/performance/doubt.hpp"

namespace calibration {
namespace {

constexpr uint64_t kSeed = 20081;
// Of air whose density was stated, and of air that nobody looked at: from a mountain's to a cold
// day's at the sea.
constexpr double kStatedAirRelative = 0.02;
constexpr double kThinAir_kg_m3 = 0.9;
constexpr double kDenseAir_kg_m3 = 1.3;

std::optional<double> heaviest_kg(const Calibration& calibration) {
  std::optional<double> heaviest;
  for (const Reading& reading : calibration.readings) {
    if (reading.load_kg) heaviest = std::max(heaviest.value_or(0.0), *reading.load_kg);
  }
  return heaviest;
}

// A stated uncertainty is normal; that of a class is a limit.
bool is_by_class(const Calibration& calibration) {
  const auto& standards = calibration.particulars.standards;
  return !standards.empty() &&
         std::all_of(standards.begin(), standards.end(), [](const Standard& standard) {
           return !standard.relative_standard_uncertainty && !standard.weight_class.empty();
         });
}

double draw_force_N(Draws& draws, const Calibration& calibration, double load_kg,
                    double standards_relative, bool by_class) {
  const double half_width = standards_relative * std::sqrt(3.0);
  const double mass_kg = load_kg * (1.0 + (by_class ? draws.rectangular(-half_width, half_width)
                                                    : draws.normal(0.0, standards_relative)));
  const DeadWeightConditions& stated = calibration.conditions;
  DeadWeightConditions drawn;
  const double gravity_half_width = kUnstatedGravityRelative * std::sqrt(3.0);
  drawn.gravity_m_s2 = stated.gravity_m_s2
                           ? *stated.gravity_m_s2
                           : protocol::kStandardGravity_m_s2 *
                                 (1.0 + draws.rectangular(-gravity_half_width, gravity_half_width));
  drawn.air_density_kg_m3 =
      stated.air_density_kg_m3
          ? *stated.air_density_kg_m3 *
                (1.0 + draws.rectangular(-kStatedAirRelative, kStatedAirRelative))
          : draws.rectangular(kThinAir_kg_m3, kDenseAir_kg_m3);
  return dead_weight_N(mass_kg, drawn);
}

std::string sentence_of(const DeadWeightValidation& tried) {
  const std::string figures = fmt::format(
      "{} trials of the force of {} kg give a shortest 95 % interval of {:.4f} to {:.4f} N, the "
      "budget {:.4f} to {:.4f} N",
      tried.trials.trials, protocol::number_text(tried.load_kg), tried.trials.low,
      tried.trials.high, tried.budget.value - tried.budget.expanded_uncertainty,
      tried.budget.value + tried.budget.expanded_uncertainty);
  if (tried.validation.agrees) {
    return fmt::format("{}: they agree within {:.2g} N.", figures, tried.validation.tolerance);
  }
  const bool covers = tried.budget.value - tried.budget.expanded_uncertainty <=
                          tried.trials.low + tried.validation.tolerance &&
                      tried.budget.value + tried.budget.expanded_uncertainty >=
                          tried.trials.high - tried.validation.tolerance;
  return fmt::format("{}: they differ by more than {:.2g} N; the budget {}.", figures,
                     tried.validation.tolerance,
                     covers ? "is the wider one and is kept"
                            : "does not cover the trials, state gravity and air density");
}

}  // namespace

std::optional<DeadWeightValidation> dead_weight_validation(const Calibration& calibration,
                                                           int trials) {
  const std::optional<double> load_kg = heaviest_kg(calibration);
  if (!load_kg || *load_kg <= 0.0) return std::nullopt;
  DeadWeightValidation result;
  result.load_kg = *load_kg;
  const double force_N = dead_weight_N(*load_kg, calibration.conditions);
  const std::vector<BudgetLine> lines = reference_lines(calibration, force_N);
  result.budget = combine(lines);
  result.budget.at = *load_kg;
  result.budget.value = force_N;
  const double standards = lines.empty() || lines.front().source != kStandardsSource
                               ? 0.0
                               : lines.front().standard_uncertainty;
  const bool by_class = is_by_class(calibration);
  result.trials = propagate(
      [&](Draws& draws) { return draw_force_N(draws, calibration, *load_kg, standards, by_class); },
      trials, kSeed);
  if (!(result.budget.combined_standard_uncertainty > 0.0)) return std::nullopt;
  result.validation =
      validate_interval(force_N, result.budget.expanded_uncertainty,
                        result.budget.combined_standard_uncertainty, result.trials, 1);
  result.sentence = sentence_of(result);
  return result;
}

}  // namespace calibration
