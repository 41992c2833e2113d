#include "fitting/solve/reduction/sums.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "fitting/model/clones.hpp"
#include "fitting/model/lanes.hpp"

namespace fitting {
namespace {

// A segment's nodes fill the lanes; rows come as many as the registers like.
using Nodes = lanes::Eight;
using Many = lanes::Eight;
static_assert(lanes::kWidth<Nodes> == kNodes);
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
template <class Lanes>
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
  const Lanes pp = lanes::exp<Lanes>(t.value[kPositiveLog] - n * lp);
  const Lanes pn = lanes::exp<Lanes>(t.value[kNegativeLog] - n * ln);
  const Lanes pl = lanes::exp<Lanes>(t.value[kLowerLog] - nl * ll);

  Lanes from_turn = s * (record_m - t.from_m);
  from_turn = from_turn > lanes::all<Lanes>(0.0) ? from_turn : -from_turn;
  const double per_delta = 1.0 / t.value[kPresliding];
  Lanes kept = lanes::all<Lanes>(0.0);
  // Lanes lie along the stroke: the nearest is at one end.
  if (std::min(from_turn[0], from_turn[lanes::kWidth<Lanes> - 1]) * per_delta < kFaded) {
    const Lanes faded = from_turn * -per_delta;
    kept = lanes::exp<Lanes>(faded > lanes::all<Lanes>(-700.0) ? faded : lanes::all<Lanes>(-700.0));
  }
  const Lanes sliding = t.value[kSliding] + t.value[kSlidingPerPressure] * (pp - pa);
  const Lanes come = s * (1.0 - kept);

  const double bumper_m = t.travel_m - t.bumper_start_m;
  Lanes u = lanes::all<Lanes>(0.0);
  if (bumper_m > 0.0) u = lanes::larger<Lanes>((x - t.bumper_start_m) / bumper_m, 0.0);

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
  slope[kConstantForce] = lanes::all<Lanes>(1.0);
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

template <class Lanes>
SPRINGWRIGHT_LANE Lanes column_slope(const Chain& chain, int column, const Lanes* slope) {
  Lanes out = lanes::all<Lanes>(0.0);
  for (int i = chain.first[column]; i < chain.first[column + 1]; ++i) {
    out += chain.slope[i] * slope[chain.term[i]];
  }
  return out;
}

// Running sums in lanes: they are added up across the lanes once, at the end.
template <class Lanes>
struct LaneSums {
  Lanes square[kMostColumns * (kMostColumns + 1) / 2];
  Lanes gradient[kMostColumns];
  Lanes sum;
};

template <class Lanes>
SPRINGWRIGHT_LANE void clear(LaneSums<Lanes>& sums, int columns) {
  for (int i = 0; i < columns * (columns + 1) / 2; ++i) sums.square[i] = lanes::all<Lanes>(0.0);
  for (int i = 0; i < columns; ++i) sums.gradient[i] = lanes::all<Lanes>(0.0);
  sums.sum = lanes::all<Lanes>(0.0);
}

template <class Lanes>
SPRINGWRIGHT_LANE void add(LaneSums<Lanes>& sums, int columns, Lanes residual,
                           const Lanes* jacobian) {
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

template <class Lanes>
SPRINGWRIGHT_LANE void give(const LaneSums<Lanes>& sums, const Job& job) {
  *job.sum += lanes::sum(sums.sum);
  int at = 0;
  for (int i = 0; i < job.columns; ++i) {
    job.gradient[i] += lanes::sum(sums.gradient[i]);
    for (int j = 0; j <= i; ++j) job.square[j * job.columns + i] += lanes::sum(sums.square[at++]);
  }
}

SPRINGWRIGHT_CLONES void sum_segments(const Job& job) {
  LaneSums<Nodes> sums;
  clear(sums, job.columns);
  for (std::size_t k = 0; k < job.count; ++k) {
    const Segment& segment = job.segments[k];
    Nodes slope[kTerms];
    alignas(64) double nodal[kNodes];
    lanes::store<Nodes>(nodal, evaluate(*job.terms, lanes::load<Nodes>(segment.travel_m), slope) -
                                   segment.reference_N);
    Nodes root[kNodes];
    for (int j = 0; j < kNodes; ++j) root[j] = lanes::load<Nodes>(segment.root[j]);
    Nodes residual = -lanes::load<Nodes>(segment.target);
    for (int j = 0; j < kNodes; ++j) residual += root[j] * nodal[j];
    Nodes jacobian[kMostColumns];
    for (int c = 0; c < job.columns; ++c) {
      lanes::store<Nodes>(nodal, column_slope<Nodes>(*job.chain, c, slope));
      jacobian[c] = lanes::all<Nodes>(0.0);
      for (int j = 0; j < kNodes; ++j) jacobian[c] += root[j] * nodal[j];
    }
    add(sums, job.columns, residual, jacobian);
  }
  give(sums, job);
}

SPRINGWRIGHT_CLONES void sum_segment_misfits(const Job& job) {
  Nodes sum = lanes::all<Nodes>(0.0);
  for (std::size_t k = 0; k < job.count; ++k) {
    const Segment& segment = job.segments[k];
    alignas(64) double nodal[kNodes];
    lanes::store(nodal, evaluate(*job.terms, lanes::load<Nodes>(segment.travel_m),
                                 static_cast<Nodes*>(nullptr)) -
                            segment.reference_N);
    Nodes residual = -lanes::load<Nodes>(segment.target);
    for (int j = 0; j < kNodes; ++j) residual += lanes::load<Nodes>(segment.root[j]) * nodal[j];
    sum += residual * residual;
  }
  *job.sum += lanes::sum(sum);
}

SPRINGWRIGHT_CLONES void sum_rows(const Job& job) {
  constexpr std::size_t kWidth = lanes::kWidth<Many>;
  LaneSums<Many> sums;
  clear(sums, job.columns);
  for (std::size_t at = 0; at < job.count; at += kWidth) {
    Many travel = lanes::all<Many>(job.travel_m[at]);
    Many force = lanes::all<Many>(0.0);
    Many counts = lanes::all<Many>(1.0);
    if (at + kWidth <= job.count) {
      travel = lanes::load<Many>(job.travel_m + at);
      force = lanes::load<Many>(job.force_N + at);
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
    Many slope[kTerms];
    const Many residual = (evaluate(*job.terms, travel, slope) - force) * counts;
    Many jacobian[kMostColumns];
    for (int c = 0; c < job.columns; ++c) {
      jacobian[c] = column_slope<Many>(*job.chain, c, slope) * counts;
    }
    add(sums, job.columns, residual, jacobian);
  }
  give(sums, job);
}

struct StoreJob {
  const StrokeTerms* terms;
  const Chain* chain;
  int columns;
  const double* travel_m;
  const double* force_N;
  std::size_t count;
  double* residual_N;
  JacobianPlace jacobian;
};

SPRINGWRIGHT_CLONES void put_rows(const StoreJob& job) {
  constexpr std::size_t kWidth = lanes::kWidth<Many>;
  for (std::size_t at = 0; at < job.count; at += kWidth) {
    const std::size_t here = std::min<std::size_t>(kWidth, job.count - at);
    Many travel = lanes::all<Many>(job.travel_m[at]);
    for (std::size_t i = 0; i < here; ++i) travel[i] = job.travel_m[at + i];
    Many slope[kTerms];
    const Many force =
        evaluate(*job.terms, travel, job.jacobian.at ? slope : static_cast<Many*>(nullptr));
    for (std::size_t i = 0; i < here; ++i) {
      job.residual_N[at + i] = force[i] - job.force_N[at + i];
    }
    if (job.jacobian.at == nullptr) continue;
    for (int c = 0; c < job.columns; ++c) {
      const Many column = column_slope<Many>(*job.chain, c, slope);
      double* to = job.jacobian.at + at * job.jacobian.row_step +
                   static_cast<std::size_t>(c) * job.jacobian.column_step;
      if (here == kWidth && job.jacobian.row_step == 1) {
        lanes::store<Many>(to, column);
        continue;
      }
      for (std::size_t i = 0; i < here; ++i) to[i * job.jacobian.row_step] = column[i];
    }
  }
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

void store_rows(const StrokeTerms& terms, const double* travel_m, const double* force_N,
                std::size_t rows, int columns, double* residual_N, const JacobianPlace& jacobian) {
  Chain chain;
  make_chain(terms, columns, chain);
  put_rows({&terms, &chain, columns, travel_m, force_N, rows, residual_N, jacobian});
}

double force_at(const StrokeTerms& terms, double travel_m, int columns, double* slopes) {
  Chain chain;
  make_chain(terms, columns, chain);
  Nodes slope[kTerms];
  const Nodes force = evaluate(terms, lanes::all<Nodes>(travel_m), slope);
  for (int c = 0; c < columns; ++c) slopes[c] = column_slope<Nodes>(chain, c, slope)[0];
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
