// The rows of a stretch of one stroke, kept as what a smooth model can see of them.
//
// Over a stretch short enough for the force to be a polynomial of degree 7, eight values of the
// model at the Chebyshev nodes stand for the model everywhere on it. The misfit to any number of
// rows is then |R (f - y0) - z|^2 + remainder, with f the model at the nodes and R, z from 15
// moments of the rows' places, 8 cross moments with their forces and one sum of squares. None of
// the rows need be kept, and the moments can be added while they are measured.
#pragma once

#include <array>
#include <cstddef>

namespace fitting {

inline constexpr int kNodes = 8;

// Sums over rows, with t the place in the stretch, -1 to 1, and y the force less a reference.
struct Moments {
  double place[2 * kNodes - 1] = {};  // sum of T_k(t)
  double force[kNodes] = {};          // sum of y T_k(t)
  double square = 0.0;                // sum of y^2
  double reference_N = 0.0;

  double rows() const { return place[0]; }
  bool empty() const { return place[0] == 0.0; }

  // Rows at distances d = direction (x - from): t = scale d + shift. The first row sets the
  // reference.
  void add(const double* travel_m, const double* force_N, std::size_t rows, double scale_1_m,
           double shift);
  // Those of another with the same stretch.
  void add(const Moments& other);
};

// What the solver needs of one stretch. Columns of R by node, nodes by growing distance.
struct Segment {
  alignas(64) double travel_m[kNodes];
  alignas(64) double distance_m[kNodes];
  alignas(64) double root[kNodes][kNodes];
  alignas(64) double target[kNodes];
  double reference_N = 0.0;
  double remainder_N2 = 0.0;
  double rows = 0.0;
};

// REQUIRES: rows. travel = from + direction * distance.
Segment make_segment(const Moments& moments, double low_m, double high_m, double from_m,
                     int direction);

}  // namespace fitting
