// The force of a dead weight tried twice: by the budget that a calibration uses, and by drawing
// mass, gravity and air at random through F = m g (1 - rho_air / rho_weight).
#pragma once

#include <optional>
#include <string>

#include "calibration/calibration.hpp"
#include "calibration/monte_carlo.hpp"
#include "calibration/performance/budget.hpp"

namespace calibration {

struct DeadWeightValidation {
  double load_kg = 0.0;
  Budget budget;  // of the force, in N
  MonteCarlo trials;
  Validation validation;
  std::string sentence;  // for the reader of a certificate
};

// For the heaviest weight of the calibration; nothing where no weights were used. Fixed seed.
std::optional<DeadWeightValidation> dead_weight_validation(const Calibration& calibration,
                                                           int trials = 200000);

}  // namespace calibration
