// How a certificate writes its quantities: which unit a kind is shown in, and numbers rounded to
// their uncertainty even where both are very small.
#pragma once

#include <string>

#include "calibration/calibration.hpp"

namespace fitting {

// The words and units of one kind of calibration.
struct CertificateWords {
  std::string quantity;      // "force", "travel", "deflection"
  std::string reference;     // what a reading stands beside: "load", "place", "deflection"
  std::string reading;       // "reading", for the frame "force"
  std::string reading_unit;  // "counts", "steps", "N"
  std::string unit;          // as shown: "N" or "mm"
  double scale = 1.0;        // from SI to it
};

CertificateWords certificate_words(calibration::Kind kind);

// "1.250034 × 10⁻²": as many digits as show two of the uncertainty's. Plain where that is short.
std::string shown_coefficient(double value, double standard_uncertainty);
// "1.2 × 10⁻⁷", with this many significant digits.
std::string shown_small(double value, int digits = 2);
// "force = c0 + c1 · reading".
std::string shown_equation(const calibration::Calibration& calibration);
// Of c0, c1, ...: "N", "N/count", "mm/step²".
std::string coefficient_unit(const calibration::Calibration& calibration, int power);

// Decimals that show the residuals' scatter to two digits, in the unit shown.
int residual_decimals(const calibration::Calibration& calibration);

}  // namespace fitting
