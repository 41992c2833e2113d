// The force law without a clock, stroke by stroke, as a few numbers per stroke and a formula per
// row.
//
//   F(x) = (P_p - p_a) A - (P_n - p_a) A_n + (P_l - p_a) A_l + F_0 + G X/L + B u^2
//          + s F_c (1 - e) + f_0 e,          X = x + travel zero
//   ln P_p = k_p - n ln(V_p0 - A X),   ln P_n = k_n - n ln(V_n0 + A_n X),
//   ln P_l = k_l - n_l ln(V_l0 - A_l X),   F_c = F_c0 + k_f (P_p - p_a),   e = exp(-|x -
//   x_0|/delta)
//
// The numbers are functions of the law's parameters, and their derivatives by these come from dual
// numbers, a handful per stroke. Derivatives by the row's place in the formula are written out.
#pragma once

#include <vector>

#include "fitting/model/follow.hpp"
#include "fitting/solve/reduction/reduction.hpp"

namespace fitting {

enum Term : int {
  kPositiveLog,  // k_p
  kNegativeLog,
  kLowerLog,
  kAirExponent,  // n
  kLowerExponent,
  kPositiveStart,  // V_p0
  kNegativeStart,
  kLowerStart,
  kPistonArea,
  kAnnulusArea,
  kLowerArea,
  kConstantForce,  // F_0
  kGasRise,        // G
  kBumper,         // B
  kSliding,        // F_c0
  kSlidingPerPressure,
  kPresliding,      // delta
  kFrictionAtTurn,  // f_0
  kZero,            // travel zero
  kTerms,
};

// The most free parameters that a reduction carries.
inline constexpr int kMostColumns = 24;

struct StrokeTerms {
  int direction = +1;
  double from_m = 0.0;
  double ambient_Pa = 0.0;
  double travel_m = 1.0;  // L
  double bumper_start_m = 1.0;
  double value[kTerms] = {};
  double slope[kTerms][kMostColumns] = {};  // by the columns asked for
  bool acts[kTerms] = {};                   // some slope is not nothing
};

// Terms of every stroke at these parameters, with slopes by the listed ones. RETURNS: empty where a
// chamber would have no volume. REQUIRES: by.size() <= kMostColumns.
std::vector<StrokeTerms> make_stroke_terms(const SweepModel& model,
                                           const LawParameters<double>& parameters,
                                           const std::vector<LawIndex>& by,
                                           const Reduction& reduction);

}  // namespace fitting
