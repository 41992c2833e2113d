#include "calibration/distributions.hpp"

#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/students_t.hpp>

#include "protocol/error.hpp"

namespace calibration {

double student_factor(double coverage, double degrees_of_freedom) {
  ENSURE(coverage > 0.0 && coverage < 1.0 && degrees_of_freedom > 0.0);
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), 0.5 + 0.5 * coverage);
}

double fisher_upper_tail(double F, double numerator_degrees, double denominator_degrees) {
  ENSURE(F >= 0.0 && numerator_degrees > 0.0 && denominator_degrees > 0.0);
  const boost::math::fisher_f distribution(numerator_degrees, denominator_degrees);
  return boost::math::cdf(boost::math::complement(distribution, F));
}

}  // namespace calibration
