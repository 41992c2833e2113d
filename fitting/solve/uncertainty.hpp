// How well the parameters are known, and from what.
//
//   statistical   inverse of the information, samples counted by how much they really tell
//   discrepancy   no model is the fork: an error of the residual's visible size and length along
//                 travel, the same in every stroke and so never averaged away
//   shared        load cell gain, gauge, travel zero ...: degenerate with the model, so the
//                 residual cannot tell them; their prior doubt is carried through as it is
//                 (consider parameters)
#pragma once

#include <string>
#include <vector>

#include "fitting/solve/problem.hpp"
#include "fitting/solve/residual_structure.hpp"

namespace fitting {

struct Doubt {
  std::string name;
  double standard_uncertainty = 0.0;
  bool shared = true;     // other forks measured on this bench have the same error
  Eigen::VectorXd shift;  // P x 1, solver's units, for one standard uncertainty
};

struct Uncertainty {
  Eigen::MatrixXd statistical;  // P x P, solver's units
  Eigen::MatrixXd discrepancy;  // P x P
  std::vector<Doubt> doubts;
  Eigen::VectorXd singular_values;  // of the scaled Jacobian, largest first
  int rank = 0;

  Eigen::MatrixXd total() const;
};

// Standard uncertainties of the instruments behind a fit, common to its sweeps.
struct BenchDoubt {
  double gain_relative = 0.0;
  double zero_N = 0.0;
  double travel_zero_m = 0.0;
  double travel_relative = 0.0;
  double frame_m_N = 0.0;  // deflection of the frame that is not corrected
  double gauge_relative = 0.0;
  double gauge_reading_Pa = 0.0;  // of the fills' mean
  double rod_area_m2 = 0.0;       // of a damper rod that the fork file does not give
  double stroke_drag_N = 0.0;     // along the stroke, not in the model: the damper's, say
  double damper_gas_N = 0.0;      // rise of the damper's gas force over the whole travel
};

// REQUIRES: the sweeps are the problem's evidence, in order, and the model exists at the values.
Uncertainty find_uncertainty(const Problem& problem,
                             const std::vector<const SweepEvidence*>& sweeps,
                             const Eigen::VectorXd& values, const ResidualStructure& structure,
                             const BenchDoubt& bench, double model_error_N);

// The model's own error to reckon with, given the visible structure and how much of it the
// parameters may have absorbed.
double model_error_N(const ResidualStructure& structure, bool has_time, int parameters,
                     std::size_t sweeps, double largest_force_N);

}  // namespace fitting
