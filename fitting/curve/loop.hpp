// The steady loop of a record: its measuring strokes brought to one travel grid.
//
//   midline   = (compression + rebound) / 2   symmetric friction is gone, the gas's heat is not
//   half-loop = (compression - rebound) / 2   friction and heat together: an upper bound of
//   friction
//
// All vectors have the length of travel_m, which ascends in equal steps; a value that was not
// measured there is NaN. Two parts of the random doubt are kept apart, since they average
// differently: noise (independent from grid point to grid point) and scatter between the cycles
// (smooth along travel, and widened where few cycles show it). What the instruments leave in doubt
// is not in here: see the record's InstrumentDoubt.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "fitting/curve/strokes.hpp"

namespace fitting {

struct LoopOptions {
  double grid_step_m = 0.0005;
  // Time in which the gas forgets; with it, what lies within 3 x speed x time of a turn is marked.
  std::optional<double> thermal_time_s;
  std::optional<protocol::Backlash> backlash;  // empty: as the record's travel certificate says
};

struct Branch {
  std::vector<double> force_N;
  std::vector<double> noise_N;    // standard uncertainty of the mean from noise
  std::vector<double> scatter_N;  // the same from cycle to cycle; 0 where there is one cycle only
  int strokes = 0;                // the most that were averaged at any point

  bool covers(std::size_t i) const { return i < force_N.size() && force_N[i] == force_N[i]; }
};

struct Loop {
  std::vector<double> travel_m;
  double grid_step_m = 0.0;
  Branch compression;
  Branch rebound;
  std::vector<double> midline_N;
  std::vector<double> midline_standard_uncertainty_N;  // of the three parts below
  std::vector<double> midline_noise_N;
  std::vector<double> midline_scatter_N;
  std::vector<double> midline_backlash_N;  // signed: the move for one standard uncertainty
  std::vector<double> half_loop_N;
  std::vector<double> half_loop_standard_uncertainty_N;
  std::vector<bool> valid;                // both branches cover, in contact
  std::vector<bool> speed_dependent;      // empty: the thermal time is not known
  std::vector<bool> contact_lost;         // the rig only pushes, and the force is gone
  double speed_m_s = 0.0;                 // 0: not known
  double scatter_length_m = 0.02;         // over which the scatter between cycles is alike
  std::optional<double> repeatability_N;  // standard deviation of one cycle about the mean
  bool single_stroke = false;  // one way only: midline_N is that one branch, no half-loop
  std::vector<Stroke> strokes;
  std::vector<std::string> remarks;
};

// ERRORS: record_unusable where no stroke covers any of the grid.
protocol::Result<Loop> make_loop(const protocol::SweepRecord& record,
                                 const LoopOptions& options = {});

}  // namespace fitting
