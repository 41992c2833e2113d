// Everything that is in doubt about one reading, as the lines of a budget. The one place where it
// is written down: a calibration's estimate and its budget both come from here.
#pragma once

#include <optional>
#include <vector>

#include "calibration/performance/budget.hpp"

namespace calibration {

// Weights that were not corrected for the air around them press less by this part at most: air
// of 1.2 kg/m3, as dense as a room's gets near sea level, against the 8000 of conventional mass.
inline constexpr double kNeglectedBuoyancyRelative = 1.2 / kConventionalDensity_kg_m3;

// Contributions are filled in by combine(). Lines that add nothing, since something else holds
// them, have sensitivity 0.
std::vector<BudgetLine> doubt_lines(const Calibration& calibration, double reading,
                                    std::optional<double> zero_reading);

// Those of them that belong to the references: standards, gravity, buoyancy. kStandardsSource names
// the first, whose uncertainty is relative.
inline constexpr const char* kStandardsSource = "standards";
std::vector<BudgetLine> reference_lines(const Calibration& calibration, double value);

// What is in doubt about every value in proportion to it: references, and creep under load.
double proportional_doubt_relative(const Calibration& calibration);

// The root sum of squares of doubt_lines, without writing them out.
double doubt_of_reading(const Calibration& calibration, double reading,
                        std::optional<double> zero_reading);

}  // namespace calibration
