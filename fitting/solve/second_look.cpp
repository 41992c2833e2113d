#include "fitting/solve/second_look.hpp"

#include <algorithm>
#include <cmath>

#include "fitting/solve/bootstrap.hpp"
#include "fitting/solve/parallel.hpp"
#include "fitting/solve/profile.hpp"

namespace fitting {
namespace {

constexpr LawIndex kQuoted[] = {kPositiveVolume, kNegativeVolume,   kPreload,        kFriction,
                                kThermalTime,    kPreslidingTravel, kTransferTravel, kExponent,
                                kCoilRate,       kAddedRate,        kTopOutRate};

SolveOptions profile_options() {
  SolveOptions out;
  out.iterations_max = 40;
  out.relative_cost_change = 1e-7;
  return out;
}

// Printed value of a solver's value.
double printed(const LawRun& run, int position, double value) {
  Eigen::VectorXd at = run.solution.values;
  at(position) = value;
  const LawIndex index = run.map.free[static_cast<std::size_t>(position)].index;
  return run.map.value_SI(at, position) / kLawParameters[index].unit_SI;
}

}  // namespace

void add_profiles(const LawRun& run, int threads, FittedModel& model) {
  std::vector<int> positions;
  for (LawIndex index : kQuoted) {
    const int position = run.map.position_of(index);
    if (position < 0) continue;
    const auto at = static_cast<std::size_t>(position);
    if (model.parameters[at].status == ParameterStatus::fitted) positions.push_back(position);
  }
  const Eigen::VectorXd slopes = run.map.slopes(run.solution.values);
  std::vector<ProfileEnds> ends(positions.size());
  for_each_parallel(static_cast<int>(positions.size()), threads, [&](int i) {
    const int position = positions[static_cast<std::size_t>(i)];
    const LawIndex index = run.map.free[static_cast<std::size_t>(position)].index;
    const double printed_deviation = std::sqrt(model.statistical_covariance(position, position));
    const double deviation =
        printed_deviation * kLawParameters[index].unit_SI / std::abs(slopes(position));
    ends[static_cast<std::size_t>(i)] =
        profile(run.problem, run.solution.values, position, deviation, profile_options());
  });
  for (std::size_t i = 0; i < positions.size(); ++i) {
    ProfileInterval interval;
    if (ends[i].low) interval.low = printed(run, positions[i], *ends[i].low);
    if (ends[i].high) interval.high = printed(run, positions[i], *ends[i].high);
    model.parameters[static_cast<std::size_t>(positions[i])].profile = interval;
  }
}

void add_bootstrap(const LawRun& run, const FitOptions& options, FittedModel& model) {
  // Strokes must stand by themselves; cells do, a merged reduction does not.
  const Problem problem = run.by_cells();
  BootstrapOptions drawing;
  drawing.replicates = options.bootstrap_replicates;
  drawing.threads = options.threads;
  drawing.seed = options.seed;
  const Bootstrap drawn = bootstrap(problem, run.solution.values, drawing);
  BootstrapResult out;
  out.replicates = drawn.replicates;
  out.strokes = drawn.strokes;
  out.refused = drawn.refused;
  const Eigen::VectorXd slopes = run.map.slopes(run.solution.values);
  for (int i = 0; drawn.refused.empty() && i < run.map.shared_size(); ++i) {
    const LawIndex index = run.map.free[static_cast<std::size_t>(i)].index;
    out.standard_uncertainty.push_back(std::sqrt(drawn.covariance(i, i)) * std::abs(slopes(i)) /
                                       kLawParameters[index].unit_SI);
  }
  model.bootstrap = std::move(out);
  if (!drawn.refused.empty()) {
    model.warnings.push_back("strokes were not drawn anew: " + drawn.refused + ".");
  }
}

}  // namespace fitting
