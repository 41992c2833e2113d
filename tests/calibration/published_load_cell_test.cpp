// The load-cell calibration whose answers are certified, through our own fit: coefficients, their
// standard deviations, residual sum of squares, lack of fit, and the way back from a deflection.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "calibration/inverse_prediction.hpp"
#include "calibration/lack_of_fit.hpp"
#include "calibration/polynomial_fit.hpp"

namespace {

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

// Source: [NIST-Pontius] all 40 observations: load 150000 k, k = 1..20, twice; deflection.
struct Pontius {
  std::vector<double> load;
  std::vector<double> deflection = {
      .11019,  .21956,  .32949,  .43899,  .54803,  .65694,  .76562,  .87487,  .98292,  1.09146,
      1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
      .11052,  .22018,  .32939,  .43886,  .54798,  .65739,  .76596,  .87474,  .98300,  1.09150,
      1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829};
  Pontius() {
    for (int i = 0; i < 40; ++i) load.push_back(150000.0 * (i % 20 + 1));
  }
  calibration::PolynomialFit fit(int degree) const {
    return calibration::fit_polynomial(load, deflection, degree).value();
  }
};

constexpr double kCertified = 1e-10;  // because the digits are certified, and QR keeps them
constexpr double kPrinted = 1e-5;     // because the handbook's print came from single precision

TEST_CASE("polynomial fit: the certified quadratic load-cell calibration",
          "[calibration][oracle]") {
  // Source: [NIST-Pontius] certified B0, B1, B2, their standard deviations, residual sum of
  // squares. Rule: 1e-10 relative.
  const calibration::PolynomialFit fit = Pontius().fit(2);
  REQUIRE(fit.coefficients.size() == 3);
  CHECK_THAT(fit.coefficients[0], WithinRel(0.673565789473684E-03, kCertified));
  CHECK_THAT(fit.coefficients[1], WithinRel(0.732059160401003E-06, kCertified));
  CHECK_THAT(fit.coefficients[2], WithinRel(-0.316081871345029E-14, kCertified));
  CHECK_THAT(fit.coefficient_standard_uncertainty(0), WithinRel(0.107938612033077E-03, kCertified));
  CHECK_THAT(fit.coefficient_standard_uncertainty(1), WithinRel(0.157817399981659E-09, kCertified));
  CHECK_THAT(fit.coefficient_standard_uncertainty(2), WithinRel(0.486652849992036E-16, kCertified));
  CHECK_THAT(fit.residual_sum_of_squares, WithinRel(0.155761768796992E-05, kCertified));
  CHECK(fit.degrees_of_freedom == 37);
  // Source: [NIST-Pontius] residual standard deviation; from memory, and recomputed.
  CHECK_THAT(fit.residual_standard_deviation, WithinRel(0.205177424076185E-03, kCertified));
}

TEST_CASE("polynomial fit: the correlations of the certified quadratic", "[calibration][oracle]") {
  // Source: [NIST-Pontius] data; correlations recomputed to 50 digits with mpmath.
  const calibration::PolynomialFit fit = Pontius().fit(2);
  const auto correlation = [&](size_t i, size_t j) {
    return fit.covariance[3 * i + j] / std::sqrt(fit.covariance[4 * i] * fit.covariance[4 * j]);
  };
  constexpr double kTenDigits = 1e-9;  // because ten digits are given
  CHECK_THAT(correlation(0, 1), WithinAbs(-0.8888048959, kTenDigits));
  CHECK_THAT(correlation(0, 2), WithinAbs(0.7811162722, kTenDigits));
  CHECK_THAT(correlation(1, 2), WithinAbs(-0.9713482022, kTenDigits));
}

TEST_CASE("polynomial fit: the straight line through the same load cell", "[calibration][oracle]") {
  // Source: [NIST-Handbook-4.6.1] straight line as printed.
  const calibration::PolynomialFit fit = Pontius().fit(1);
  CHECK_THAT(fit.coefficients[0], WithinRel(.614969E-02, kPrinted));
  CHECK_THAT(fit.coefficients[1], WithinRel(.722103E-06, kPrinted));
  CHECK_THAT(fit.coefficient_standard_uncertainty(0), WithinRel(.7132E-03, 1e-4));  // four digits
  CHECK_THAT(fit.coefficient_standard_uncertainty(1), WithinRel(.3969E-09, 1e-4));  // four digits
  CHECK_THAT(fit.residual_standard_deviation, WithinRel(.0021712694, kPrinted));
  CHECK(fit.degrees_of_freedom == 38);
  // Source: [NIST-Pontius] data; full digits recomputed with mpmath.
  CHECK_THAT(fit.coefficients[0], WithinRel(0.00614968421052632, kCertified));
  CHECK_THAT(fit.coefficients[1], WithinRel(7.22102581453634e-7, kCertified));
  CHECK_THAT(fit.coefficient_standard_uncertainty(0), WithinRel(7.13205167465612e-4, kCertified));
  CHECK_THAT(fit.coefficient_standard_uncertainty(1), WithinRel(3.96914780404425e-10, kCertified));
  CHECK_THAT(fit.residual_sum_of_squares, WithinRel(1.79148138082707e-4, kCertified));
  CHECK_THAT(fit.residual_standard_deviation, WithinRel(2.17127259605675e-3, kCertified));
}

TEST_CASE("lack of fit: a line is refused and a quadratic accepted", "[calibration][oracle]") {
  const Pontius data;
  const auto test = [&](int degree) {
    return calibration::compute_lack_of_fit(data.fit(degree), data.load, data.deflection).value();
  };
  // Source: [NIST-Handbook-4.6.1] replication standard deviation, F values and their points.
  const calibration::LackOfFit line = test(1);
  CHECK(line.degrees_of_freedom == 18);
  CHECK(line.pure_error_degrees_of_freedom == 20);
  CHECK_THAT(line.replication_standard_deviation(), WithinRel(0.2147264895e-03, kPrinted));
  CHECK_THAT(line.F, WithinRel(214.7464, kPrinted));
  CHECK(line.probability < 1e-10);
  const calibration::LackOfFit quadratic = test(2);
  CHECK(quadratic.degrees_of_freedom == 17);
  CHECK_THAT(quadratic.F, WithinRel(0.8107, 1e-4));  // because four digits are printed
  CHECK_THAT(1.0 - quadratic.probability, WithinAbs(0.333818, 3e-5));  // single precision again
  // Source: [NIST-Pontius] data; full digits recomputed with mpmath.
  CHECK_THAT(line.pure_error_sum_of_squares, WithinRel(9.2215e-7, kCertified));
  CHECK_THAT(line.replication_standard_deviation(), WithinRel(2.14726570316764e-4, kCertified));
  CHECK_THAT(line.F, WithinRel(214.746923654, 1e-9));
  CHECK_THAT(quadratic.F, WithinRel(0.81072390031, 1e-8));
  CHECK_THAT(test(3).F, WithinRel(0.793771419454, 1e-8));
}

TEST_CASE("inverse prediction: a deflection back to its load, with limits",
          "[calibration][oracle]") {
  // Source: [NIST-Handbook-4.6.1] deflection 1.239722 is load 1705106, limits 1704513 and 1705698.
  const calibration::InversePrediction back =
      calibration::predict_inverse(Pontius().fit(2), 1.239722, 1, 150000.0, 3000000.0).value();
  CHECK_THAT(back.x, WithinAbs(1705106.0, 1.0));  // because whole units are printed
  CHECK_THAT(back.low_95, WithinAbs(1704513.0, 1.0));
  CHECK_THAT(back.high_95, WithinAbs(1705698.0, 1.0));
  // Source: [NIST-Pontius] data; recomputed with mpmath.
  CHECK_THAT(back.x, WithinAbs(1705105.56885, 1e-4));
  CHECK_THAT(back.low_95, WithinAbs(1704513.373, 1e-2));
  CHECK_THAT(back.high_95, WithinAbs(1705697.764, 1e-2));
}

TEST_CASE("polynomial fit: uncertainty of the curve and of a new reading along the range",
          "[calibration][oracle]") {
  // Source: [NIST-Pontius] data; recomputed with mpmath: load, curve, one new reading.
  constexpr std::array<std::array<double, 3>, 4> kRows = {{
      {0.0, 1.07938612e-4, 2.31837269e-4},
      {150000.0, 8.83430256e-5, 2.2338815e-4},
      {1500000.0, 4.86417679e-5, 2.10864404e-4},
      {3000000.0, 8.83430256e-5, 2.2338815e-4},
  }};
  const calibration::PolynomialFit fit = Pontius().fit(2);
  for (const auto& [load, curve, prediction] : kRows) {
    CAPTURE(load);
    CHECK_THAT(fit.curve_standard_uncertainty(load), WithinRel(curve, 1e-8));  // nine digits
    CHECK_THAT(fit.prediction_standard_uncertainty(load), WithinRel(prediction, 1e-8));
  }
}

}  // namespace
