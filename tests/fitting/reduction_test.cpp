// A reduction stands for its rows: the same misfit, the same slopes, the same optimum, however the
// rows came in and however few they are.
#include "fitting/solve/reduction/reduction.hpp"

#include <ceres/jet.h>

#include <Eigen/Dense>
#include <catch2/catch.hpp>

#include "tests/fitting/quasi_static.hpp"

using namespace fitting;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

const std::vector<LawIndex> kSix = {kPositiveVolume, kNegativeVolume,   kPreload,
                                    kFriction,       kPreslidingTravel, kExponent};
// Everything that acts without a clock.
const std::vector<LawIndex> kAll = {kPositiveVolume,   kNegativeVolume, kLowerLegVolume,
                                    kPreload,          kFriction,       kFrictionPerPressure,
                                    kPreslidingTravel, kTransferTravel, kBumperForce,
                                    kDamperGas,        kExponent,       kLowerLegExponent,
                                    kSpacerVolume,     kPistonDiameter, kDamperRodArea,
                                    kPressureScale,    kTravelZero,     kFillError};

LawParameters<double> truth() {
  LawParameters<double> p = law_samples::fork();
  p[kDamperGas] = 5.0;
  return p;
}

// A free parameter's usual size, by which the numbers are compared.
double size_of(LawIndex index) {
  if (index == kTravelZero) return 1e-3;
  if (index == kFillError) return 1e4;
  return std::abs(truth()[index]);
}

struct Sums {
  NormalEquations reduced;
  NormalEquations rows;
};

Sums both(const quasi_static::Sweep& sweep, const LawParameters<double>& at,
          const std::vector<LawIndex>& by, bool merged) {
  const int columns = static_cast<int>(by.size());
  Sums out;
  out.reduced.clear(columns);
  out.rows.clear(columns);
  const Reduction reduction = quasi_static::reduce(sweep, merged);
  const std::vector<StrokeTerms> terms = make_stroke_terms(sweep.model, at, by, reduction);
  REQUIRE(terms.size() == reduction.strokes().size());
  for (std::size_t i = 0; i < terms.size(); ++i) {
    add_segments(terms[i], reduction.strokes()[i], columns, true, out.reduced);
    for (const Segment& segment : reduction.strokes()[i].segments) {
      out.reduced.sum += segment.remainder_N2;
    }
  }
  const Reduction apart = quasi_static::reduce(sweep, false);
  const std::vector<StrokeTerms> each = make_stroke_terms(sweep.model, at, by, apart);
  for (std::size_t i = 0; i < each.size(); ++i) {
    const quasi_static::Rows& stroke = sweep.strokes[i];
    add_rows(each[i], stroke.travel_m.data(), stroke.force_N.data(), stroke.travel_m.size(),
             columns, out.rows);
  }
  return out;
}

Eigen::VectorXd step(const NormalEquations& sums) {
  const Eigen::MatrixXd square = sums.square.selfadjointView<Eigen::Lower>();
  return square.ldlt().solve(-sums.gradient);
}

}  // namespace

TEST_CASE("reduction: misfit, slopes and curvature are those of all rows", "[fit]") {
  const bool merged = GENERATE(false, true);
  const int rows = GENERATE(800, 4000, 40000);
  const quasi_static::Sweep sweep = quasi_static::make({.rows = rows, .to_m = 0.1565}, truth());
  const Sums sums = both(sweep, truth(), kSix, merged);
  CAPTURE(merged, rows);
  // Because the interpolation errs by 1e-6 N where the residual is 1.5 N.
  CHECK_THAT(sums.reduced.sum, WithinRel(sums.rows.sum, 1e-6));
  // The distance of the two optima in standard deviations, and the covariances against each other.
  const Eigen::MatrixXd square = sums.rows.square.selfadjointView<Eigen::Lower>();
  const Eigen::MatrixXd reduced = sums.reduced.square.selfadjointView<Eigen::Lower>();
  const Eigen::VectorXd deviation = square.inverse().diagonal().cwiseSqrt() * 1.5;
  const Eigen::VectorXd apart = step(sums.reduced) - step(sums.rows);
  CHECK(apart.cwiseQuotient(deviation).cwiseAbs().maxCoeff() < 5e-5);
  const Eigen::VectorXd ratio =
      reduced.inverse().diagonal().cwiseQuotient(square.inverse().diagonal());
  CHECK((ratio.array() - 1.0).abs().maxCoeff() < 1e-6);
}

TEST_CASE("reduction: far from the optimum it is right too", "[fit]") {
  LawParameters<double> off = truth();
  off[kPositiveVolume] *= 1.3;
  off[kNegativeVolume] *= 0.7;
  off[kFriction] *= 1.3;
  off[kPreslidingTravel] *= 0.7;
  off[kExponent] = 1.3;
  const Sums sums = both(quasi_static::make({.rows = 12000}, truth()), off, kSix, true);
  CHECK_THAT(sums.reduced.sum, WithinRel(sums.rows.sum, 1e-6));
  for (int i = 0; i < 6; ++i) {
    CHECK_THAT(sums.reduced.gradient(i), WithinRel(sums.rows.gradient(i), 1e-5));
  }
}

TEST_CASE("reduction: the pieces in which rows arrive do not matter", "[fit]") {
  const quasi_static::Sweep sweep = quasi_static::make({.rows = 3000}, truth());
  const std::size_t piece = GENERATE(1u, 7u, 64u, 999u);
  Reduction whole = quasi_static::reduce(sweep);
  Reduction pieces(sweep.model.geometry);
  for (const quasi_static::Rows& rows : sweep.strokes) {
    pieces.begin_stroke(rows.stroke.direction, rows.stroke.from_m);
    for (std::size_t at = 0; at < rows.travel_m.size(); at += piece) {
      const std::size_t count = std::min(piece, rows.travel_m.size() - at);
      pieces.add(&rows.travel_m[at], &rows.force_N[at], count);
    }
    pieces.end_stroke(rows.stroke.to_m);
  }
  pieces.merge();
  REQUIRE(pieces.strokes().size() == whole.strokes().size());
  CHECK(pieces.rows() == whole.rows());
  for (std::size_t i = 0; i < whole.strokes().size(); ++i) {
    const ReducedStroke& a = whole.strokes()[i];
    const ReducedStroke& b = pieces.strokes()[i];
    REQUIRE(a.segments.size() == b.segments.size());
    for (std::size_t k = 0; k < a.segments.size(); ++k) {
      CHECK_THAT(b.segments[k].remainder_N2,
                 WithinAbs(a.segments[k].remainder_N2, 1e-6 * a.segments[k].rows));
      CHECK(a.segments[k].rows == b.segments[k].rows);
    }
  }
}

TEST_CASE("reduction: strokes that went the same way stand together, others do not", "[fit]") {
  const quasi_static::Sweep sweep = quasi_static::make({.cycles = 3, .rows = 6000}, truth());
  const Reduction apart = quasi_static::reduce(sweep, false);
  const Reduction merged = quasi_static::reduce(sweep, true);
  CHECK(apart.strokes().size() == 6);
  // The first stroke starts without friction; the others are two kinds.
  REQUIRE(merged.strokes().size() == 3);
  CHECK(merged.strokes()[0].strokes == 1);
  CHECK(merged.strokes()[1].strokes == 3);
  CHECK(merged.strokes()[2].strokes == 2);
  CHECK(merged.rows() == sweep.rows());
}

TEST_CASE("reduction: few rows, and rows all in one place, tell what they tell", "[fit]") {
  const int rows = GENERATE(4, 12, 60);
  const quasi_static::Sweep sweep = quasi_static::make({.rows = rows}, truth());
  const Sums sums = both(sweep, truth(), kSix, true);
  CHECK_THAT(sums.reduced.sum, WithinRel(sums.rows.sum, 5e-5));

  quasi_static::Sweep still = quasi_static::make({.cycles = 1, .rows = 200}, truth());
  for (quasi_static::Rows& stroke : still.strokes) {
    for (double& x_m : stroke.travel_m) x_m = 0.060;
  }
  const Sums one_place = both(still, truth(), kSix, true);
  CHECK_THAT(one_place.reduced.sum, WithinRel(one_place.rows.sum, 1e-6));
}

TEST_CASE("stroke terms: every written-out slope is that of the law's own jets", "[fit]") {
  using Jet = ceres::Jet<double, static_cast<int>(kLawSize)>;
  const quasi_static::Sweep sweep =
      quasi_static::make({.spacers = 2, .cycles = 2, .rows = 400, .to_m = 0.1565}, truth());
  LawParameters<double> at = truth();
  at[kTravelZero] = 2e-4;
  at[kFillError] = 3e3;
  LawParameters<Jet> jets;
  for (std::size_t i = 0; i < kLawSize; ++i) jets[i] = Jet(at[i], static_cast<int>(i));
  const ExponentLaw<Jet> law(jets, sweep.model.geometry, sweep.model.at);
  const Reduction reduction = quasi_static::reduce(sweep, false);
  const std::vector<StrokeTerms> terms = make_stroke_terms(sweep.model, at, kAll, reduction);
  Jet at_turn_N(0.0);
  std::vector<double> slopes(kAll.size());
  for (std::size_t k = 0; k < terms.size(); ++k) {
    const Stroke& stroke = sweep.strokes[k].stroke;
    const auto force_N = [&](double x_m) {
      const auto parts = law.parts(law.true_travel_m(x_m));
      return std::pair{parts.total_N(), law.friction_N(stroke.direction, x_m - stroke.from_m,
                                                       at_turn_N, parts.positive_Pa)};
    };
    for (double x_m : sweep.strokes[k].travel_m) {
      const auto [spring_N, friction_N] = force_N(x_m);
      const Jet expected = spring_N + friction_N;
      const double found_N = force_at(terms[k], x_m, static_cast<int>(kAll.size()), slopes.data());
      REQUIRE_THAT(found_N, WithinAbs(expected.a, 1e-9));
      for (std::size_t c = 0; c < kAll.size(); ++c) {
        CAPTURE(k, x_m, kLawParameters[kAll[c]].name);
        const double size = size_of(kAll[c]);
        // Because both are exact: rounding, of forces up to 2 kN.
        REQUIRE_THAT(slopes[c] * size,
                     WithinAbs(expected.v(static_cast<Eigen::Index>(kAll[c])) * size, 1e-7));
      }
    }
    at_turn_N = force_N(stroke.to_m).second;
  }
}

TEST_CASE("stroke terms: a chamber without volume has none", "[fit]") {
  const quasi_static::Sweep sweep = quasi_static::make({.rows = 100}, truth());
  LawParameters<double> at = truth();
  at[kPositiveVolume] = 110e-6;
  CHECK(make_stroke_terms(sweep.model, at, kSix, quasi_static::reduce(sweep)).empty());
}
