// Propagation of distributions by Monte Carlo after JCGM 101: what the law of propagation of
// uncertainty leaves out, a model that bends and a distribution that is not normal.
//
// A seed means the same numbers on every machine: the distributions of the standard library differ
// from one to the next, so they are made here.
#pragma once

#include <cstdint>
#include <functional>
#include <random>

namespace calibration {

class Draws {
 public:
  explicit Draws(uint64_t seed) : random_(seed) {}

  double uniform();  // 0 to 1, neither included
  double normal(double mean, double standard_deviation);
  double rectangular(double low, double high);

 private:
  std::mt19937_64 random_;
};

struct MonteCarlo {
  double mean = 0.0;
  double standard_uncertainty = 0.0;
  double low = 0.0;  // the shortest interval of the stated coverage
  double high = 0.0;
  int trials = 0;
};

// The model draws its inputs and returns one value. REQUIRES: trials >= 100, 0 < coverage < 1.
MonteCarlo propagate(const std::function<double(Draws&)>& model, int trials, uint64_t seed,
                     double coverage = 0.95);

// Half a unit in the last place of u when that is written with so many significant digits: 0.005
// for 0.54 (clause 7.9.2). REQUIRES: u > 0, digits >= 1.
double numerical_tolerance(double standard_uncertainty, int digits = 2);

// Whether an interval from a budget stands up to one from trials (clause 8): both ends within the
// numerical tolerance.
struct Validation {
  double low_difference = 0.0;  // magnitudes
  double high_difference = 0.0;
  double tolerance = 0.0;
  bool agrees = false;
};
Validation validate_interval(double value, double expanded_uncertainty, double standard_uncertainty,
                             const MonteCarlo& trials, int digits = 2);

}  // namespace calibration
