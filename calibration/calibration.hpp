// The one calibration type: a curve from an instrument's reading to a value, with all that stands
// behind it. Three kinds share it (see Kind): counts -> N, steps -> m, N -> m of frame deflection.
//
// The equation is fitted as value = polynomial(reading), the direction in which it is used. Against
// the classical direction (reading on value, then solved) the slope differs by the square of
// residual SD over the readings' spread: 1e-7 for a load cell that repeats to 0.03 %.
//
// A calibration never changes once made. Its id is the SHA-256 of its content (certificate.hpp).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calibration/lack_of_fit.hpp"
#include "calibration/polynomial.hpp"
#include "calibration/readings.hpp"
#include "protocol/record/sweep_record.hpp"

namespace calibration {

// Beyond the calibrated range nothing was measured: the standard uncertainty grows by this part of
// the excess, a prior for the non-linearity of an ordinary strain-gauge cell.
inline constexpr double kBeyondRangeRelative = 0.002;
// Where a standard's uncertainty is not stated.
inline constexpr double kUnstatedStandardRelative = 0.001;
// Where local gravity is not given: 9.780 to 9.832 m/s2 over the Earth, as a rectangular
// distribution.
inline constexpr double kUnstatedGravityRelative = 0.0015;

// A value with its doubt. Standard uncertainties, k = 1.
struct Estimate {
  double value = 0.0;
  double standard_uncertainty = 0.0;
  double beyond_range = 0.0;  // how far outside the calibrated range, 0 inside
  bool is_beyond_range() const { return beyond_range > 0.0; }
};

struct Quality {
  double residual_standard_deviation = 0.0;
  double residual_sum_of_squares = 0.0;
  int degrees_of_freedom = 0;
  double largest_residual = 0.0;         // with its sign
  std::optional<LackOfFit> lack_of_fit;  // of reading against reference, where loads repeat
  std::optional<double> hysteresis;      // largest |descending - ascending| at one load, as a value
};

// One degree that was tried, and whether the curve passes through the means of the repeats.
struct DegreeTrial {
  int degree = 1;
  double residual_standard_deviation = 0.0;
  std::optional<LackOfFit> lack_of_fit;
};

struct Calibration {
  std::string id;  // 64 hexadecimal digits
  Kind kind = Kind::force;
  Particulars particulars;
  DeadWeightConditions conditions;

  bool through_origin = false;
  std::vector<double> coefficients;
  std::vector<double> covariance;  // row-major; already multiplied by covariance_scale
  // Readings at one load share its lack of fit, so where that is significant they count as one:
  // the covariance is widened by the ratio of the two variances. 1 where it is not.
  double covariance_scale = 1.0;
  Quality quality;
  std::vector<DegreeTrial> degree_trials;  // empty where the degree was asked for
  double range_low = 0.0;                  // of the values
  double range_high = 0.0;
  double beyond_range_relative = kBeyondRangeRelative;
  // Of the standards and of gravity: common to all readings, so that no averaging reduces it.
  double reference_relative = 0.0;

  std::vector<Reading> readings;
  std::optional<CreepRun> creep;
  double resolution = 0.0;           // of one reading; 0: not said
  std::vector<std::string> remarks;  // assumptions that the reader must know

  int degree() const { return static_cast<int>(coefficients.size()) - 1; }
  double value(double reading) const { return polynomial_value(coefficients, reading); }
  double coefficient_standard_uncertainty(int power) const;

  // The value of one new reading, with everything that is in doubt about it.
  Estimate estimate(double reading) const;
  // The same with the instrument's zero, read today, taken off.
  Estimate estimate_from_zero(double reading, double zero_reading) const;
  // How much the standard uncertainty grows at a value outside the range.
  double beyond_range_uncertainty(double value) const;
  // Of the straight line through the curve at its lowest and its highest reading.
  double mean_slope() const;
  // The reading that gives this value on that line.
  double reading_on_chord(double value) const;
  // The reading that gives this value. ERRORS: calibration_unusable where the curve turns back.
  protocol::Result<double> reading_at(double value) const;

  protocol::AppliedCalibration applied() const;
  // today: ISO 8601. A calibration without a limit never expires.
  bool is_expired(std::string_view today) const;
};

}  // namespace calibration
