// The heat law along a path, at the speed that a fit asks for: the same steps as HeatLaw, which
// stays the readable form of them, with slopes worked out by hand and by the parameters asked for.
//
// In the widest instructions that the processor has (clones.hpp).
#pragma once

#include <vector>

#include "fitting/model/follow.hpp"
#include "fitting/model/heat_track.hpp"

namespace fitting {

// A column of slopes: by what the law's parameter is moved with.
inline constexpr int kMostHeatColumns = 24;

struct SlopeColumn {
  LawIndex index;
  double scale = 1.0;  // d(parameter, SI) by the column's number
};

// Force at every node of the track's record.
// All three: RETURNS false where a chamber would have no volume, and leave the output as it is.
// REQUIRES: a heat law; columns.size() <= kMostHeatColumns where they are summed up.
bool heat_forces(const SweepModel& model, const LawParameters<double>& parameters,
                 const HeatTrack& track, double* force_N);

// Besides, rows of columns.size() slopes.
bool heat_slopes(const SweepModel& model, const LawParameters<double>& parameters,
                 const HeatTrack& track, const std::vector<SlopeColumn>& columns, double* force_N,
                 double* slopes);

// The least-squares sums of residuals weight (force - measured), node by node.
struct HeatSums {
  double
      square[kMostHeatColumns * kMostHeatColumns];  // J^T J, columns^2 in rows, the lower triangle
  double gradient[kMostHeatColumns];                // J^T r
  double sum;                                       // |r|^2
};
bool heat_sums(const SweepModel& model, const LawParameters<double>& parameters,
               const HeatTrack& track, const std::vector<SlopeColumn>& columns,
               const double* weight, const double* measured_N, HeatSums& out);

}  // namespace fitting
