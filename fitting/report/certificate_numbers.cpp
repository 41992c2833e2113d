#include "fitting/report/certificate_numbers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "fitting/report/numbers.hpp"

namespace fitting {

using calibration::Calibration;
using calibration::Kind;

namespace {

constexpr int kPlainDecimalsMax = 6;
constexpr int kPlainExponentMax = 5;

std::string raised(int exponent) {
  constexpr std::array<const char*, 10> kDigits = {"⁰", "¹", "²", "³", "⁴",
                                                   "⁵", "⁶", "⁷", "⁸", "⁹"};
  std::string text = exponent < 0 ? "⁻" : "";
  for (const char digit : std::to_string(std::abs(exponent))) {
    text += kDigits[static_cast<size_t>(digit - '0')];
  }
  return text;
}

int exponent_of(double value) {
  return static_cast<int>(std::floor(std::log10(std::abs(value))));
}

std::string scientific(double value, int decimals) {
  int exponent = exponent_of(value);
  // 9.96 to one decimal is 10.0.
  const double unit = std::pow(10.0, -decimals);
  if (std::abs(value) / std::pow(10.0, exponent) >= 10.0 - 0.5 * unit) ++exponent;
  return rounded(value / std::pow(10.0, exponent), decimals) + " × 10" + raised(exponent);
}

bool is_number(double value) {
  return std::isfinite(value) && value != 0.0;
}

}  // namespace

CertificateWords certificate_words(Kind kind) {
  switch (kind) {
    case Kind::force:
      return {"force", "load", "reading", "counts", "N", 1.0};
    case Kind::travel:
      return {"travel", "place", "reading", "steps", "mm", 1e3};
    case Kind::frame:
      break;
  }
  return {"deflection", "deflection", "force", "N", "mm", 1e3};
}

std::string shown_small(double value, int digits) {
  if (!is_number(value)) return "0";
  const int exponent = exponent_of(value);
  const int decimals = digits - 1 - exponent;
  if (decimals <= kPlainDecimalsMax && exponent < kPlainExponentMax) {
    return rounded(value, std::max(0, decimals));
  }
  return scientific(value, digits - 1);
}

std::string shown_coefficient(double value, double standard_uncertainty) {
  if (!is_number(standard_uncertainty) || standard_uncertainty < 0.0) return shown_small(value, 6);
  const int decimals = 1 - exponent_of(standard_uncertainty);
  if (decimals <= kPlainDecimalsMax || !is_number(value)) {
    return rounded(value, std::clamp(decimals, 0, kPlainDecimalsMax));
  }
  // A coefficient that is smaller than its doubt still shows where it stands.
  return scientific(value, std::clamp(decimals + exponent_of(value), 1, 12));
}

std::string shown_equation(const Calibration& calibration) {
  const CertificateWords words = certificate_words(calibration.kind);
  std::string text = words.quantity + " =";
  if (!calibration.through_origin) text += " c0 +";
  for (int power = 1; power <= calibration.degree(); ++power) {
    if (power > 1) text += " +";
    text += fmt::format(" c{} · {}", power, words.reading);
    if (power > 1) text += raised(power);
  }
  return text;
}

std::string coefficient_unit(const Calibration& calibration, int power) {
  const CertificateWords words = certificate_words(calibration.kind);
  if (power == 0) return words.unit;
  const std::string one = words.reading_unit == "counts"  ? "count"
                          : words.reading_unit == "steps" ? "step"
                                                          : words.reading_unit;
  return words.unit + "/" + one + (power > 1 ? raised(power) : "");
}

int residual_decimals(const Calibration& calibration) {
  return decimals_for(certificate_words(calibration.kind).scale *
                      calibration.quality.residual_standard_deviation);
}

}  // namespace fitting
