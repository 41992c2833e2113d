// The two distributions that a calibration needs, behind plain functions.
#pragma once

namespace calibration {

// t with P(|T| <= t) = coverage, for T of Student's distribution: 2.0262 at 0.95 and 37 degrees of
// freedom. REQUIRES: 0 < coverage < 1, degrees_of_freedom > 0.
double student_factor(double coverage, double degrees_of_freedom);

// P(X >= F), for X of Fisher's distribution with the given degrees of freedom.
double fisher_upper_tail(double F, double numerator_degrees, double denominator_degrees);

}  // namespace calibration
