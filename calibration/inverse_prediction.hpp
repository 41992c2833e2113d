// The way back through a fitted curve: which x a reading of y belongs to, with its limits.
#pragma once

#include "calibration/polynomial_fit.hpp"

namespace calibration {

struct InversePrediction {
  double x = 0.0;
  double standard_uncertainty = 0.0;
  double low_95 = 0.0;  // where the prediction band of the curve meets y
  double high_95 = 0.0;
};

// y is the mean of `repeats` new readings; the root is looked for near the range x_low..x_high.
// ERRORS: calibration_unusable where the curve does not reach y there.
protocol::Result<InversePrediction> predict_inverse(const PolynomialFit& fit, double y, int repeats,
                                                    double x_low, double x_high);

}  // namespace calibration
