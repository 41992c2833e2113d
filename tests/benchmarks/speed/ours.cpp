#include "tests/benchmarks/speed/ours.hpp"

#include <chrono>

#include "fitting/solve/bootstrap.hpp"
#include "fitting/solve/parallel.hpp"

namespace speed {
namespace {

using namespace fitting;

struct Reduced {
  std::vector<Reduction> reductions;
  std::vector<ReducedEvidence> evidence;
  std::vector<std::vector<StrokeRows>> rows;
  Problem problem;
};

std::vector<StrokeRows> rows_of(const quasi_static::Sweep& sweep) {
  std::vector<StrokeRows> out;
  for (const quasi_static::Rows& stroke : sweep.strokes) {
    out.push_back({stroke.stroke.direction, stroke.stroke.from_m, stroke.travel_m.data(),
                   stroke.force_N.data(), stroke.travel_m.size()});
  }
  return out;
}

std::vector<const ReducedEvidence*> list(const Reduced& reduced) {
  std::vector<const ReducedEvidence*> out;
  for (const ReducedEvidence& each : reduced.evidence) out.push_back(&each);
  return out;
}

void reduce_all(const DataSet& set, int threads, Reduced& out) {
  for (const quasi_static::Sweep& sweep : set.sweeps) {
    out.reductions.emplace_back(sweep.model.geometry);
    out.rows.push_back(rows_of(sweep));
  }
  for_each_parallel(static_cast<int>(set.sweeps.size()), threads, [&](int s) {
    const auto at = static_cast<std::size_t>(s);
    out.reductions[at] = quasi_static::reduce(set.sweeps[at]);
  });
  for (std::size_t s = 0; s < set.sweeps.size(); ++s) {
    out.evidence.emplace_back(out.reductions[s], set.sweeps[s].model, set.map, static_cast<int>(s));
  }
  for (const ReducedEvidence& each : out.evidence) out.problem.evidence.push_back(&each);
  for (const FreeParameter& free : set.map.free) {
    out.problem.parameters.push_back({std::string(kLawParameters[free.index].name)});
  }
}

}  // namespace

double now_ms() {
  return std::chrono::duration<double, std::milli>(
             std::chrono::steady_clock::now().time_since_epoch())
      .count();
}

Fit fit(const DataSet& set, int threads) {
  Fit out;
  Reduced reduced;
  const double begin = now_ms();
  reduce_all(set, threads, reduced);
  const double ready = now_ms();
  SolveOptions options;
  options.relative_cost_change = 1e-10;
  const Solution solution = solve_from(reduced.problem, set.start, options);
  const double solved = now_ms();
  out.certificate = certify(list(reduced), reduced.rows, reduced.problem, solution.values, threads);
  out.certify_ms = now_ms() - solved;
  out.reduce_ms = ready - begin;
  out.solve_ms = solved - ready;
  out.values = solution.values;
  out.iterations = solution.iterations;
  return out;
}

Replicates draw_strokes(const DataSet& set, const Eigen::VectorXd& solution) {
  const double begin = now_ms();
  std::vector<Reduction> apart;
  for (const quasi_static::Sweep& sweep : set.sweeps) {
    apart.push_back(quasi_static::reduce(sweep, false));
  }
  std::vector<ReducedEvidence> evidence;
  for (std::size_t s = 0; s < apart.size(); ++s) {
    evidence.emplace_back(apart[s], set.sweeps[s].model, set.map, static_cast<int>(s));
  }
  Problem problem;
  for (const ReducedEvidence& each : evidence) problem.evidence.push_back(&each);
  for (const FreeParameter& free : set.map.free) {
    problem.parameters.push_back({std::string(kLawParameters[free.index].name)});
  }
  const Bootstrap drawn = bootstrap(problem, solution, {.replicates = 1000, .threads = 1});
  return {now_ms() - begin, drawn.failed, drawn.refused};
}

double pass_ms(const DataSet& set) {
  Reduced reduced;
  reduce_all(set, 1, reduced);
  const double begin = now_ms();
  certify(list(reduced), reduced.rows, reduced.problem, set.start, 1);
  return now_ms() - begin;
}

}  // namespace speed
