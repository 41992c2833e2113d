// Which degree the curve gets: the lowest that follows the loads.
//
// The lowest degree whose lack of fit is not significant (probability 5 % or more). A very
// repeatable cell is followed by no polynomial to within its repeats; then the lowest degree beyond
// which the residual standard deviation falls by less than a tenth. Where nothing repeats, nothing
// can tell, and the curve is a line.
#pragma once

#include <string>

#include "calibration/calibration.hpp"
#include "calibration/polynomial_fit.hpp"
#include "calibration/repeats.hpp"

namespace calibration {

inline constexpr double kLackOfFitSignificance = 0.05;
inline constexpr double kWorthwhileFall = 0.10;  // of the residual standard deviation

// One curve, fitted in both directions.
struct FittedDegree {
  PolynomialFit fit;        // value on reading, as it is used
  PolynomialFit classical;  // reading on value, where repeats share their abscissa
  std::optional<LackOfFit> lack_of_fit;

  DegreeTrial trial() const;
};

// ERRORS: calibration_unusable (too few loads for the degree, a curve that turns back within the
// readings).
protocol::Result<FittedDegree> fit_degree(const std::vector<Reading>& readings, Kind kind,
                                          int degree);

struct DegreeChoice {
  FittedDegree chosen;
  std::vector<DegreeTrial> trials;  // every degree that the readings can carry
  std::string remark;               // empty where the test decided
};

// ERRORS: of degree 1.
protocol::Result<DegreeChoice> choose_degree(const std::vector<Reading>& readings, Kind kind);

}  // namespace calibration
