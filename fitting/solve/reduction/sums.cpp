#include "fitting/solve/reduction/sums.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "fitting/model/clones.hpp"
#include "fitting/solve/reduction/lanes.hpp"

namespace fitting {
namespace {

using lanes::Lanes;

constexpr int kWidth = lanes::kWidth;
static_assert(kWidth == kNodes, "a segment's nodes fill the lanes");
constexpr double kFaded = 37.0;  // presliding travels: e^-37 is below rounding

// Slopes of the columns by the terms that act, as a list without the nothings.
struct Chain {
  int first[kMostColumns + 1];  // of each column's entries
  int term[kTerms * kMostColumns];
  double slope[kTerms * kMostColumns];
};

void make_chain(const StrokeTerms& terms, int columns, Chain& out) {
  int at = 0;
  for (int column = 0; column < columns; ++column) {
    out.first[column] = at;
    for (int term = 0; term < kTerms; ++term) {
      if (terms.slope[term][column] == 0.0) continue;
      out.term[at] = term;
      out.slope[at++] = terms.slope[term][column];
    }
  }
  out.first[columns] = at;
}

// Force at eight travels, and its slopes by the terms where they are asked for. The formula and the
// names are those of stroke_terms.hpp.
SPRINGWRIGHT_LANE Lanes evaluate(const StrokeTerms& t, Lanes record_m, Lanes* slope) {
  const double s = t.direction;
  const double pa = t.ambient_Pa;
  const double n = t.value[kAirExponent];
  const double nl = t.value[kLowerExponent];
  const double area = t.value[kPistonArea];
  const double annulus = t.value[kAnnulusArea];
  const double lower = t.value[kLowerArea];
  const Lanes x = record_m + t.value[kZero];
  const Lanes vp = t.value[kPositiveStart] - area * x;
  const Lanes vn = t.value[kNegativeStart] + annulus * x;
  const Lanes vl = t.value[kLowerStart] - lower * x;
  const auto [lp, ln, ll] = lanes::logarithms(vp, vn, vl);
  const Lanes pp = lanes::exp(t.value[kPositiveLog] - n * lp);
  const Lanes pn = lanes::exp(t.value[kNegativeLog] - n * ln);
  const Lanes pl = lanes::exp(t.value[kLowerLog] - nl * ll);

  Lanes from_turn = s * (record_m - t.from_m);
  from_turn = from_turn > lanes::all(0.0) ? from_turn : -from_turn;
  const double per_delta = 1.0 / t.value[kPresliding];
  Lanes kept = lanes::all(0.0);
  // Lanes lie along the stroke: the nearest is at one end.
  if (std::min(from_turn[0], from_turn[kWidth - 1]) * per_delta < kFaded) {
    const Lanes faded = from_turn * -per_delta;
    kept = lanes::exp(faded > lanes::all(-700.0) ? faded : lanes::all(-700.0));
  }
  const Lanes sliding = t.value[kSliding] + t.value[kSlidingPerPressure] * (pp - pa);
  const Lanes come = s * (1.0 - kept);

  const double bumper_m = t.travel_m - t.bumper_start_m;
  Lanes u = lanes::all(0.0);
  if (bumper_m > 0.0) u = lanes::larger((x - t.bumper_start_m) / bumper_m, 0.0);

  const Lanes force = (pp - pa) * area - (pn - pa) * annulus + (pl - pa) * lower +
                      t.value[kConstantForce] + t.value[kGasRise] / t.travel_m * x +
                      t.value[kBumper] * u * u + come * sliding + t.value[kFrictionAtTurn] * kept;
  if (slope == nullptr) return force;

  const Lanes weight = area + t.value[kSlidingPerPressure] * come;
  const Lanes wp = weight * pp;
  const Lanes an = annulus * pn;
  const auto [inverse_vp, inverse_vn, inverse_vl] = lanes::reciprocals(vp, vn, vl);
  const Lanes per_vp = n * wp * inverse_vp;
  const Lanes per_vn = n * an * inverse_vn;
  slope[kPositiveLog] = wp;
  slope[kNegativeLog] = -an;
  slope[kAirExponent] = an * ln - wp * lp;
  slope[kPositiveStart] = -per_vp;
  slope[kNegativeStart] = per_vn;
  slope[kConstantForce] = lanes::all(1.0);
  slope[kSliding] = come;
  slope[kPresliding] =
      (t.value[kFrictionAtTurn] - s * sliding) * kept * from_turn * (per_delta * per_delta);
  slope[kFrictionAtTurn] = kept;
  if (t.acts[kSlidingPerPressure]) slope[kSlidingPerPressure] = come * (pp - pa);
  if (t.acts[kPistonArea]) {
    slope[kPistonArea] = (pp - pa) + per_vp * x;
    slope[kAnnulusArea] = per_vn * x - (pn - pa);
  }
  const Lanes al = lower * pl;
  const Lanes per_vl = nl * al * inverse_vl;
  if (t.acts[kLowerLog] || t.acts[kLowerStart] || t.acts[kLowerArea]) {
    slope[kLowerLog] = al;
    slope[kLowerExponent] = -al * ll;
    slope[kLowerStart] = -per_vl;
    slope[kLowerArea] = (pl - pa) + per_vl * x;
  }
  if (t.acts[kGasRise]) slope[kGasRise] = x / t.travel_m;
  if (t.acts[kBumper]) slope[kBumper] = u * u;
  if (t.acts[kZero]) {
    slope[kZero] =
        per_vp * area + per_vn * annulus + per_vl * lower + t.value[kGasRise] / t.travel_m;
    if (bumper_m > 0.0) slope[kZero] += 2.0 * t.value[kBumper] / bumper_m * u;
  }
  return force;
}

SPRINGWRIGHT_LANE Lanes column_slope(const Chain& chain, int column, const Lanes* slope) {
  Lanes out = lanes::all(0.0);
  for (int i = chain.first[column]; i < chain.first[column + 1]; ++i) {
    out += chain.slope[i] * slope[chain.term[i]];
  }
  return out;
}

// Running sums in lanes: they are added up across the lanes once, at the end.
struct LaneSums {
  Lanes square[kMostColumns * (kMostColumns + 1) / 2];
  Lanes gradient[kMostColumns];
  Lanes sum;
};

SPRINGWRIGHT_LANE void clear(LaneSums& sums, int columns) {
  for (int i = 0; i < columns * (columns + 1) / 2; ++i) sums.square[i] = lanes::all(0.0);
  for (int i = 0; i < columns; ++i) sums.gradient[i] = lanes::all(0.0);
  sums.sum = lanes::all(0.0);
}

SPRINGWRIGHT_LANE void add(LaneSums& sums, int columns, Lanes residual, const Lanes* jacobian) {
  sums.sum += residual * residual;
  int at = 0;
  for (int i = 0; i < columns; ++i) {
    sums.gradient[i] += jacobian[i] * residual;
    for (int j = 0; j <= i; ++j) sums.square[at++] += jacobian[i] * jacobian[j];
  }
}

struct Job {
  const StrokeTerms* terms;
  const Chain* chain;
  int columns;
  const Segment* segments;  // of a reduction
  const double* travel_m;   // of rows
  const double* force_N;
  std::size_t count;
  double* square;  // columns x columns, column-major, lower triangle is added to
  double* gradient;
  double* sum;
};

SPRINGWRIGHT_LANE void give(const LaneSums& sums, const Job& job) {
  *job.sum += lanes::sum(sums.sum);
  int at = 0;
  for (int i = 0; i < job.columns; ++i) {
    job.gradient[i] += lanes::sum(sums.gradient[i]);
    for (int j = 0; j <= i; ++j) job.square[j * job.columns + i] += lanes::sum(sums.square[at++]);
  }
}

SPRINGWRIGHT_CLONES void sum_segments(const Job& job) {
  LaneSums sums;
  clear(sums, job.columns);
  for (std::size_t k = 0; k < job.count; ++k) {
    const Segment& segment = job.segments[k];
    Lanes slope[kTerms];
    alignas(64) double nodal[kWidth];
    lanes::store(nodal,
                 evaluate(*job.terms, lanes::load(segment.travel_m), slope) - segment.reference_N);
    Lanes root[kNodes];
    for (int j = 0; j < kNodes; ++j) root[j] = lanes::load(segment.root[j]);
    Lanes residual = -lanes::load(segment.target);
    for (int j = 0; j < kNodes; ++j) residual += root[j] * nodal[j];
    Lanes jacobian[kMostColumns];
    for (int c = 0; c < job.columns; ++c) {
      lanes::store(nodal, column_slope(*job.chain, c, slope));
      jacobian[c] = lanes::all(0.0);
      for (int j = 0; j < kNodes; ++j) jacobian[c] += root[j] * nodal[j];
    }
    add(sums, job.columns, residual, jacobian);
  }
  give(sums, job);
}

SPRINGWRIGHT_CLONES void sum_segment_misfits(const Job& job) {
  Lanes sum = lanes::all(0.0);
  for (std::size_t k = 0; k < job.count; ++k) {
    const Segment& segment = job.segments[k];
    alignas(64) double nodal[kWidth];
    lanes::store(
        nodal, evaluate(*job.terms, lanes::load(segment.travel_m), nullptr) - segment.reference_N);
    Lanes residual = -lanes::load(segment.target);
    for (int j = 0; j < kNodes; ++j) residual += lanes::load(segment.root[j]) * nodal[j];
    sum += residual * residual;
  }
  *job.sum += lanes::sum(sum);
}

SPRINGWRIGHT_CLONES void sum_rows(const Job& job) {
  LaneSums sums;
  clear(sums, job.columns);
  for (std::size_t at = 0; at < job.count; at += kWidth) {
    Lanes travel = lanes::all(job.travel_m[at]);
    Lanes force = lanes::all(0.0);
    Lanes counts = lanes::all(1.0);
    if (at + kWidth <= job.count) {
      travel = lanes::load(job.travel_m + at);
      force = lanes::load(job.force_N + at);
    } else {
      for (std::size_t i = 0; i < kWidth; ++i) {
        if (at + i < job.count) {
          travel[i] = job.travel_m[at + i];
          force[i] = job.force_N[at + i];
        } else {
          counts[i] = 0.0;
        }
      }
    }
    Lanes slope[kTerms];
    const Lanes residual = (evaluate(*job.terms, travel, slope) - force) * counts;
    Lanes jacobian[kMostColumns];
    for (int c = 0; c < job.columns; ++c) {
      jacobian[c] = column_slope(*job.chain, c, slope) * counts;
    }
    add(sums, job.columns, residual, jacobian);
  }
  give(sums, job);
}

Job make_job(const StrokeTerms& terms, const Chain& chain, int columns, NormalEquations& sums) {
  Job job{};
  job.terms = &terms;
  job.chain = &chain;
  job.columns = columns;
  job.square = sums.square.data();
  job.gradient = sums.gradient.data();
  job.sum = &sums.sum;
  return job;
}

}  // namespace

void add_segments(const StrokeTerms& terms, const ReducedStroke& stroke, int columns,
                  bool derivatives, NormalEquations& sums) {
  Chain chain;
  if (derivatives) make_chain(terms, columns, chain);
  Job job = make_job(terms, chain, columns, sums);
  job.segments = stroke.segments.data();
  job.count = stroke.segments.size();
  derivatives ? sum_segments(job) : sum_segment_misfits(job);
}

void add_rows(const StrokeTerms& terms, const double* travel_m, const double* force_N,
              std::size_t rows, int columns, NormalEquations& sums) {
  Chain chain;
  make_chain(terms, columns, chain);
  Job job = make_job(terms, chain, columns, sums);
  job.travel_m = travel_m;
  job.force_N = force_N;
  job.count = rows;
  sum_rows(job);
}

double force_at(const StrokeTerms& terms, double travel_m, int columns, double* slopes) {
  Chain chain;
  make_chain(terms, columns, chain);
  Lanes slope[kTerms];
  const Lanes force = evaluate(terms, lanes::all(travel_m), slope);
  for (int c = 0; c < columns; ++c) slopes[c] = column_slope(chain, c, slope)[0];
  return force[0];
}

const char* instruction_set() {
#if defined(__x86_64__) && !defined(__SANITIZE_ADDRESS__)
  if (__builtin_cpu_supports("x86-64-v4")) return "AVX-512";
  if (__builtin_cpu_supports("x86-64-v3")) return "AVX2";
#endif
  return "SSE2";
}

}  // namespace fitting
