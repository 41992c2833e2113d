#include "fitting/solve/reduction/segment.hpp"

#include <Eigen/Cholesky>
#include <cmath>
#include <numbers>

#include "fitting/model/clones.hpp"
#include "fitting/model/lanes.hpp"

namespace fitting {
namespace {

using Lanes = lanes::Eight;
constexpr std::size_t kWidth = lanes::kWidth<Lanes>;
using Square = Eigen::Matrix<double, kNodes, kNodes>;
using Column = Eigen::Matrix<double, kNodes, 1>;

constexpr double kNotPositive = 1e-6;  // of the number of rows
constexpr double kBelowRounding = 1e-13;

struct Rows {
  const double* travel_m;
  const double* force_N;
  std::size_t count;
  double scale_1_m;
  double shift;
  double reference_N;
};

SPRINGWRIGHT_CLONES void accumulate(const Rows& rows, Moments& out) {
  Lanes place[2 * kNodes - 1];
  Lanes force[kNodes];
  for (Lanes& sum : place) sum = lanes::all<Lanes>(0.0);
  for (Lanes& sum : force) sum = lanes::all<Lanes>(0.0);
  Lanes square = lanes::all<Lanes>(0.0);
  for (std::size_t at = 0; at < rows.count; at += kWidth) {
    Lanes travel = lanes::all<Lanes>(0.0);
    Lanes y = lanes::all<Lanes>(0.0);
    Lanes counts = lanes::all<Lanes>(1.0);
    if (at + kWidth <= rows.count) {
      travel = lanes::load<Lanes>(rows.travel_m + at);
      y = lanes::load<Lanes>(rows.force_N + at) - rows.reference_N;
    } else {
      for (std::size_t i = 0; i < kWidth; ++i) {
        const bool there = at + i < rows.count;
        travel[i] = there ? rows.travel_m[at + i] : rows.travel_m[at];
        y[i] = there ? rows.force_N[at + i] - rows.reference_N : 0.0;
        counts[i] = there ? 1.0 : 0.0;
      }
    }
    const Lanes t = travel * rows.scale_1_m + rows.shift;
    const Lanes twice = t + t;
    Lanes before = counts;
    Lanes now = t * counts;
    square += y * y;
    place[0] += before;
    place[1] += now;
    force[0] += y;
    force[1] += y * t;
    for (int k = 2; k < 2 * kNodes - 1; ++k) {
      const Lanes next = twice * now - before;
      before = now;
      now = next;
      place[k] += now;
      if (k < kNodes) force[k] += y * now;
    }
  }
  for (int k = 0; k < 2 * kNodes - 1; ++k) out.place[k] += lanes::sum(place[k]);
  for (int k = 0; k < kNodes; ++k) out.force[k] += lanes::sum(force[k]);
  out.square += lanes::sum(square);
}

// Of node j, nodes by growing place.
double node_angle(int j) {
  return (2.0 * (kNodes - 1 - j) + 1.0) * std::numbers::pi / (2.0 * kNodes);
}

// Places of the nodes, -1 to 1.
Column make_places() {
  Column out;
  for (int j = 0; j < kNodes; ++j) out(j) = std::cos(node_angle(j));
  return out;
}

// From values at the nodes to coefficients of the Chebyshev polynomials.
Square make_transform() {
  Square out;
  for (int k = 0; k < kNodes; ++k) {
    for (int j = 0; j < kNodes; ++j) {
      out(k, j) = (k == 0 ? 1.0 : 2.0) / kNodes * std::cos(k * node_angle(j));
    }
  }
  return out;
}

struct Root {
  Square root;    // upper: root^T root is the Gram matrix of the polynomials
  Column target;  // root^-T of the cross moments
};

Root take_root(const Square& gram, const Column& cross, double rows) {
  const Eigen::LLT<Square> cholesky(gram);
  const bool positive =
      cholesky.info() == Eigen::Success &&
      cholesky.matrixLLT().diagonal().array().square().minCoeff() > kNotPositive * rows;
  if (positive) return {cholesky.matrixU(), cholesky.matrixL().solve(cross)};
  // Fewer rows than polynomials, or all in one place: the directions that they tell.
  const Eigen::LDLT<Square> pivoted(gram);
  const Column pivots = pivoted.vectorD();
  const Column turned = pivoted.matrixL().solve(pivoted.transpositionsP() * cross);
  Square upper = pivoted.matrixU();
  const double least = kBelowRounding * pivots(0);
  Root out{Square::Zero(), Column::Zero()};
  for (int i = 0; i < kNodes; ++i) {
    if (!(pivots(i) > least)) continue;
    const double length = std::sqrt(pivots(i));
    out.root.row(i) = length * upper.row(i);
    out.target(i) = turned(i) / length;
  }
  const Square turned_back = pivoted.transpositionsP().transpose() * out.root.transpose();
  out.root = turned_back.transpose();
  return out;
}

}  // namespace

void Moments::add(const double* travel_m, const double* force_N, std::size_t rows, double scale_1_m,
                  double shift) {
  if (rows == 0) return;
  if (empty()) reference_N = force_N[0];
  accumulate({travel_m, force_N, rows, scale_1_m, shift, reference_N}, *this);
}

void Moments::add(const Moments& other) {
  if (other.empty()) return;
  if (empty()) {
    *this = other;
    return;
  }
  // The other's forces counted from this reference.
  const double off_N = other.reference_N - reference_N;
  square += other.square + 2.0 * off_N * other.force[0] + other.rows() * off_N * off_N;
  for (int k = 0; k < kNodes; ++k) force[k] += other.force[k] + off_N * other.place[k];
  for (int k = 0; k < 2 * kNodes - 1; ++k) place[k] += other.place[k];
}

Segment make_segment(const Moments& moments, double low_m, double high_m, double from_m,
                     int direction) {
  static const Square transform = make_transform();
  Square gram;
  for (int i = 0; i < kNodes; ++i) {
    for (int j = 0; j < kNodes; ++j) {
      // T_i T_j = (T_{i+j} + T_{|i-j|}) / 2.
      gram(i, j) = 0.5 * (moments.place[i + j] + moments.place[std::abs(i - j)]);
    }
  }
  const Root root = take_root(gram, Eigen::Map<const Column>(moments.force), moments.rows());
  const Square nodal = root.root * transform;
  Segment out;
  static const Column place = make_places();
  for (int j = 0; j < kNodes; ++j) {
    out.distance_m[j] = 0.5 * (low_m + high_m) + 0.5 * (high_m - low_m) * place(j);
    out.travel_m[j] = from_m + direction * out.distance_m[j];
    for (int i = 0; i < kNodes; ++i) out.root[j][i] = nodal(i, j);
    out.target[j] = root.target(j);
  }
  out.reference_N = moments.reference_N;
  out.remainder_N2 = std::max(0.0, moments.square - root.target.squaredNorm());
  out.rows = moments.rows();
  return out;
}

}  // namespace fitting
