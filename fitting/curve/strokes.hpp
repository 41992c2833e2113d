// A sweep's path cut into strokes at its reversals.
//
// The path itself decides, not the record's stroke column: foreign data has none, and a rig's
// numbering is a claim that can be checked against this. A reversal is a retreat from the furthest
// point by more than a hysteresis threshold, so that jitter and quantisation make no strokes.
//
// Every row belongs to exactly one stroke. The row at a turn, and the rows of a dwell there, belong
// to the stroke that arrives.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "protocol/record/sweep_record.hpp"

namespace fitting {

struct Stroke {
  std::size_t first_row = 0;
  std::size_t last_row = 0;    // half open: one behind the last row
  std::size_t moving_end = 0;  // half open: the rows from here to last_row dwell at the turn
  int direction = +1;          // +1 compression, -1 rebound
  double from_m = 0.0;         // travel at the turn where it starts
  double to_m = 0.0;           // travel at the turn where it ends
  int cycle = 0;               // from 0
  bool conditioning = false;   // of a cycle that only settles the gas
  bool other_speed = false;    // measured at another speed than the first measuring stroke
  bool partial = false;        // the last stroke, ended before it came to its turn

  std::size_t size() const { return last_row - first_row; }
  double length_m() const { return direction * (to_m - from_m); }
};

struct StrokeOptions {
  // Retreat that makes a reversal; empty: 1 % of the swept range, at least 0.3 mm.
  std::optional<double> hysteresis_m;
};

// Strokes of a bare path; all count as measuring, cycles are numbered. Empty for a path that never
// moves by more than the threshold.
std::vector<Stroke> split_path(const std::vector<double>& travel_m,
                               const StrokeOptions& options = {});

// The same with the record's conditioning cycles marked. Where an import does not say how many
// there are, its first cycle is taken as conditioning if it holds at least two full cycles and
// starts at equilibrium (a cycled start is settled already). ERRORS: record_unusable for a path
// that never moves.
protocol::Result<std::vector<Stroke>> split_strokes(const protocol::SweepRecord& record,
                                                    const StrokeOptions& options = {});

}  // namespace fitting
