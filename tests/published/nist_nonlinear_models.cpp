#include "tests/published/nist_nonlinear_models.hpp"

#include <map>
#include <numbers>

namespace nist {
namespace {

Jet rational(const Jet* b, double x, int numerator, int denominator) {
  Jet top = b[numerator];
  for (int i = numerator - 1; i >= 0; --i) top = top * x + b[i];
  Jet bottom(0.0);
  for (int i = numerator + denominator; i > numerator; --i) bottom = (bottom + b[i]) * x;
  return top / (1.0 + bottom);
}

Jet bell(const Jet& height, const Jet& centre, const Jet& width, double x) {
  const Jet z = (x - centre) / width;
  return height * exp(-z * z);
}

Jet wave(const Jet& cosine, const Jet& sine, const Jet& period, double x) {
  const Jet phase = 2.0 * std::numbers::pi * x / period;
  return cosine * cos(phase) + sine * sin(phase);
}

Jet saturation(const Jet* b, double x, double) {
  return b[0] * (1.0 - exp(-b[1] * x));
}
Jet misra1b(const Jet* b, double x, double) {
  const Jet base = 1.0 + b[1] * x / 2.0;
  return b[0] * (1.0 - 1.0 / (base * base));
}
Jet misra1c(const Jet* b, double x, double) {
  return b[0] * (1.0 - 1.0 / sqrt(1.0 + 2.0 * b[1] * x));
}
Jet misra1d(const Jet* b, double x, double) {
  return b[0] * b[1] * x / (1.0 + b[1] * x);
}
Jet power(const Jet* b, double x, double) {
  return b[0] * pow(x, b[1]);
}
Jet linear_over_quadratic(const Jet* b, double x, double) {
  return b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]);
}
Jet shifted_exponential(const Jet* b, double x, double) {
  return b[0] * exp(b[1] / (x + b[2]));
}
Jet two_exponentials(const Jet* b, double x, double) {
  return b[0] + b[1] * exp(-x * b[3]) + b[2] * exp(-x * b[4]);
}
Jet three_exponentials(const Jet* b, double x, double) {
  return b[0] * exp(-b[1] * x) + b[2] * exp(-b[3] * x) + b[4] * exp(-b[5] * x);
}
Jet normalised_bell(const Jet* b, double x, double) {
  const Jet z = (x - b[2]) / b[1];
  return b[0] / b[1] * exp(-0.5 * z * z);
}
Jet decay_and_two_bells(const Jet* b, double x, double) {
  return b[0] * exp(-b[1] * x) + bell(b[2], b[3], b[4], x) + bell(b[5], b[6], b[7], x);
}
Jet cubic_over_cubic(const Jet* b, double x, double) {
  return rational(b, x, 3, 3);
}
Jet quadratic_over_quadratic(const Jet* b, double x, double) {
  return rational(b, x, 2, 2);
}
Jet logistic(const Jet* b, double x, double) {
  return b[0] / (1.0 + exp(b[1] - b[2] * x));
}
Jet generalised_logistic(const Jet* b, double x, double) {
  return b[0] / pow(1.0 + exp(b[1] - b[2] * x), 1.0 / b[3]);
}
Jet roszman1(const Jet* b, double x, double) {
  return b[0] - b[1] * x - atan(b[2] / (x - b[3])) / std::numbers::pi;
}
Jet decay_over_line(const Jet* b, double x, double) {
  return exp(-b[0] * x) / (b[1] + b[2] * x);
}
Jet three_waves(const Jet* b, double x, double) {
  return b[0] + wave(b[1], b[2], Jet(12.0), x) + wave(b[4], b[5], b[3], x) +
         wave(b[7], b[8], b[6], x);
}
Jet nelson(const Jet* b, double x, double x2) {
  return b[0] - b[1] * x * exp(-b[2] * x2);
}
Jet shifted_power(const Jet* b, double x, double) {
  return b[0] * pow(b[1] + x, -1.0 / b[2]);
}

}  // namespace

Model model_of(const std::string& name) {
  static const std::map<std::string, Model> models = {{"Misra1a", saturation},
                                                      {"Misra1b", misra1b},
                                                      {"Misra1c", misra1c},
                                                      {"Misra1d", misra1d},
                                                      {"DanWood", power},
                                                      {"BoxBOD", saturation},
                                                      {"MGH09", linear_over_quadratic},
                                                      {"MGH10", shifted_exponential},
                                                      {"MGH17", two_exponentials},
                                                      {"Lanczos1", three_exponentials},
                                                      {"Lanczos2", three_exponentials},
                                                      {"Lanczos3", three_exponentials},
                                                      {"Eckerle4", normalised_bell},
                                                      {"Gauss1", decay_and_two_bells},
                                                      {"Gauss2", decay_and_two_bells},
                                                      {"Gauss3", decay_and_two_bells},
                                                      {"Thurber", cubic_over_cubic},
                                                      {"Hahn1", cubic_over_cubic},
                                                      {"Rat42", logistic},
                                                      {"Rat43", generalised_logistic},
                                                      {"Roszman1", roszman1},
                                                      {"Chwirut1", decay_over_line},
                                                      {"Chwirut2", decay_over_line},
                                                      {"Kirby2", quadratic_over_quadratic},
                                                      {"ENSO", three_waves},
                                                      {"Nelson", nelson},
                                                      {"Bennett5", shifted_power}};
  return models.at(name);
}

bool takes_logarithm(const std::string& name) {
  return name == "Nelson";
}

}  // namespace nist
