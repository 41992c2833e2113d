#include "fitting/model/heat_kernel.hpp"

#include "fitting/model/clones.hpp"
#include "fitting/model/kernel/walk.hpp"
#include "protocol/error.hpp"

namespace fitting {
namespace {

using kernel::Eight;
using kernel::kMostSlopes;
using kernel::kUsualSlopes;
using kernel::Stretch;

struct Job {
  const SweepModel* model;
  const double* parameters;  // kLawSize
  const HeatTrack* track;
  const SlopeColumn* columns;
  int width;  // columns
  double* force_N;
  double* slopes;
  int stride;  // between rows of slopes
  const double* weight;
  const double* measured_N;
  HeatSums* sums;
};

// Adds rows' squares, eight columns by eight at a time: the lower blocks.
template <int N>
SPRINGWRIGHT_LANE void add_squares(const double* rows, const double* residuals, int count,
                                   double* square, double* gradient) {
  for (int first = 0; first < N; first += 8) {
    for (int second = 0; second <= first; second += 8) {
      Eight block[8] = {};
      for (int row = 0; row < count; ++row) {
        const Eight right = lanes::load<Eight>(rows + row * N + second);
        const double* left = rows + row * N + first;
        for (int k = 0; k < 8; ++k) block[k] += left[k] * right;
      }
      for (int k = 0; k < 8; ++k) {
        double* to = square + (first + k) * N + second;
        lanes::store(to, lanes::load<Eight>(to) + block[k]);
      }
    }
    Eight down = {};
    for (int row = 0; row < count; ++row) {
      down += residuals[row] * lanes::load<Eight>(rows + row * N + first);
    }
    lanes::store(gradient + first, lanes::load<Eight>(gradient + first) + down);
  }
}

// What is kept while the squares are added up.
template <int N>
struct alignas(64) Squares {
  double square[N * N] = {};
  double gradient[N] = {};
  double rows[kernel::kStretch * N];
  double residuals[kernel::kStretch];
};

template <int N>
inline void add_rows(const Job& job, int node, const Stretch& stretch, int skipped,
                     Squares<N>& squares) {
  int count = 0;
  for (int i = skipped; i < stretch.steps; ++i) {
    const double weight = job.weight[node + i];
    if (weight == 0.0) continue;
    const double residual = weight * (stretch.force_N[i] - job.measured_N[node + i]);
    job.sums->sum += residual * residual;
    squares.residuals[count] = residual;
    for (int part = 0; part < N; part += 8) {
      lanes::store(squares.rows + count * N + part,
                   weight * lanes::load<Eight>(stretch.slopes + i * N + part));
    }
    ++count;
  }
  add_squares<N>(squares.rows, squares.residuals, count, squares.square, squares.gradient);
}

template <int N>
inline void run(const Job& job) {
  LawParameters<kernel::Number<N>> p;
  for (std::size_t i = 0; i < kLawSize; ++i) p[i] = job.parameters[i];
  if constexpr (N > 0) {
    for (int c = 0; c < job.width; ++c) p[job.columns[c].index].v[c] = job.columns[c].scale;
  }
  Squares<N == 0 ? 8 : N> squares;
  const int earlier = job.track->earlier;
  kernel::Walk<N> walk(*job.model, p, *job.track);
  walk.run([&](const Stretch& stretch) {
    const int node = stretch.first - earlier;
    const int skipped = std::clamp(-node, 0, stretch.steps);
    if (job.sums != nullptr) {
      if constexpr (N > 0) add_rows<N>(job, node, stretch, skipped, squares);
      return;
    }
    for (int i = skipped; i < stretch.steps; ++i) {
      job.force_N[node + i] = stretch.force_N[i];
      double* to = job.slopes + static_cast<std::ptrdiff_t>(node + i) * job.stride;
      for (int c = 0; c < job.width; ++c) to[c] = stretch.slopes[i * N + c];
    }
  });
  if constexpr (N > 0) {
    if (job.sums == nullptr) return;
    for (int row = 0; row < job.width; ++row) {
      job.sums->gradient[row] = squares.gradient[row];
      for (int c = 0; c <= row; ++c) {
        job.sums->square[row * job.width + c] = squares.square[row * N + c];
      }
    }
  }
}

SPRINGWRIGHT_CLONES void run_plain(const Job& job) {
  run<0>(job);
}
SPRINGWRIGHT_CLONES void run_usual(const Job& job) {
  run<kUsualSlopes>(job);
}
SPRINGWRIGHT_CLONES void run_wide(const Job& job) {
  run<kMostSlopes>(job);
}

bool dispatch(const SweepModel& model, const LawParameters<double>& parameters,
              const HeatTrack& track, Job job) {
  ENSURE(model.law != GasLaw::exponent);
  static_assert(kMostSlopes == kMostHeatColumns);
  ENSURE(job.width <= kMostSlopes);
  const Chambers<double> chambers = make_chambers(parameters, model.geometry, model.at.spacers);
  if (!volumes_remain(chambers, track.largest_travel_m)) return false;
  job.model = &model;
  job.parameters = parameters.data();
  job.track = &track;
  if (job.width == 0) {
    run_plain(job);
  } else {
    job.width <= kUsualSlopes ? run_usual(job) : run_wide(job);
  }
  return true;
}

}  // namespace

bool heat_forces(const SweepModel& model, const LawParameters<double>& parameters,
                 const HeatTrack& track, double* force_N) {
  Job job{};
  job.force_N = force_N;
  return dispatch(model, parameters, track, job);
}

bool heat_slopes(const SweepModel& model, const LawParameters<double>& parameters,
                 const HeatTrack& track, const std::vector<SlopeColumn>& columns, double* force_N,
                 double* slopes) {
  Job job{};
  job.force_N = force_N;
  job.stride = static_cast<int>(columns.size());
  for (int first = 0; first < job.stride; first += kUsualSlopes) {
    job.columns = columns.data() + first;
    job.width = std::min(kUsualSlopes, job.stride - first);
    job.slopes = slopes + first;
    if (!dispatch(model, parameters, track, job)) return false;
  }
  return true;
}

bool heat_sums(const SweepModel& model, const LawParameters<double>& parameters,
               const HeatTrack& track, const std::vector<SlopeColumn>& columns,
               const double* weight, const double* measured_N, HeatSums& out) {
  ENSURE(!columns.empty());
  Job job{};
  job.columns = columns.data();
  job.width = static_cast<int>(columns.size());
  job.weight = weight;
  job.measured_N = measured_N;
  job.sums = &out;
  out.sum = 0.0;
  return dispatch(model, parameters, track, job);
}

}  // namespace fitting
