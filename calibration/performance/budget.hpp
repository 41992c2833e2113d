// The uncertainty budget of one reading, after the GUM (JCGM 100:2008): every source with what it
// contributes, the effective degrees of freedom of Welch and Satterthwaite, and the expanded
// uncertainty by Student's factor.
//
// Nothing is counted twice. The residuals of the curve are those of readings taken going up and
// coming down, from the first zero to the last, on the display as it is; so their scatter already
// holds reversibility, the return to zero and the step of the display. Such sources are listed with
// sensitivity 0: what they are can be read, and what they add is nothing.
#pragma once

#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "calibration/calibration.hpp"

namespace calibration {

struct BudgetLine {
  std::string source;
  char evaluation = 'B';     // 'A': from scatter, 'B': otherwise
  std::string distribution;  // "normal", "rectangular", "Student"
  double standard_uncertainty = 0.0;
  std::string unit;  // of the standard uncertainty; "1" for a relative one
  double sensitivity = 1.0;
  double contribution = 0.0;  // |sensitivity| * standard uncertainty, in the value's SI unit
  double degrees_of_freedom = std::numeric_limits<double>::infinity();
  // Lines of one pool above 0 rest on one estimate of variance; they count as one in the effective
  // degrees of freedom.
  int pool = 0;
};

struct Budget {
  double at = 0.0;  // the reading
  double value = 0.0;
  std::vector<BudgetLine> lines;
  double combined_standard_uncertainty = 0.0;
  double effective_degrees_of_freedom = std::numeric_limits<double>::infinity();
  double coverage_factor = 0.0;  // Student's, at the degrees of freedom truncated to a whole number
  double expanded_uncertainty = 0.0;
};

// Root sum of squares of the contributions; value and `at` stay 0. REQUIRES: 0 < coverage < 1.
Budget combine(std::vector<BudgetLine> lines, double coverage = 0.95);

// Of one new reading; with zero_reading, of its difference from the zero read the same day. The
// combined standard uncertainty is that of Calibration::estimate and estimate_from_zero.
Budget budget_of_reading(const Calibration& calibration, double reading,
                         std::optional<double> zero_reading = std::nullopt, double coverage = 0.95);

// The same at the reading that gives `value`.
Budget budget_at(const Calibration& calibration, double value);

}  // namespace calibration
