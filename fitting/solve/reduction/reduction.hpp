// A sweep reduced while it is measured: per stroke a few segments, graded by the distance from the
// reversal, however many rows there are.
//
// Near a reversal friction turns round within tenths of a millimetre, so the first segment is that
// long and each next one grows with its distance. Uniform bins would bend the presliding travel.
#pragma once

#include <vector>

#include "fitting/curve/strokes.hpp"
#include "fitting/model/geometry.hpp"
#include "fitting/solve/reduction/segment.hpp"
#include "protocol/record/sweep_record.hpp"

namespace fitting {

// One stroke, or several that went the same way from the same reversal.
struct ReducedStroke {
  int direction = +1;
  double from_m = 0.0;
  double to_m = 0.0;
  int before = -1;  // the stroke whose end left the friction that this one starts with; -1: none
  int strokes = 1;  // that it stands for
  std::vector<Moments> moments;   // by segment
  std::vector<Segment> segments;  // those with rows
};

class Reduction {
 public:
  explicit Reduction(const Geometry& geometry) : geometry_(geometry) {}

  // Rows of one stroke, in the order of the path and in pieces of any size.
  void begin_stroke(int direction, double from_m);
  void add(const double* travel_m, const double* force_N, std::size_t rows);
  void end_stroke(double to_m);

  // Makes the segments of what has been added so far: either of strokes that went the same way from
  // the same place together, where the friction that they started with is the same too, or of each
  // stroke by itself. Merged is final.
  void merge();
  void keep_apart();

  const std::vector<ReducedStroke>& strokes() const { return strokes_; }
  // Which of them each stroke of the sweep went into, in the sweep's order.
  const std::vector<int>& kinds() const { return kinds_; }
  std::size_t rows() const { return rows_; }
  double largest_travel_m() const { return largest_travel_m_; }

 private:
  void finish(ReducedStroke& stroke) const;

  Geometry geometry_;
  std::vector<ReducedStroke> strokes_;
  std::vector<int> kinds_;
  std::vector<double> edges_m_;  // distances of the stroke under way
  std::size_t rows_ = 0;
  double largest_travel_m_ = 0.0;
};

// The moving rows of a record's strokes, without those that tell nothing: the first millimetres of
// a start from rest, and a pushed fork that lifted off. Merged.
Reduction reduce(const protocol::SweepRecord& record, const std::vector<Stroke>& strokes,
                 const Geometry& geometry);

}  // namespace fitting
