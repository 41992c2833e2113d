#include "tests/benchmarks/speed/heat.hpp"

#include <Eigen/Dense>
#include <cmath>

#include "fitting/solve/parallel.hpp"
#include "tests/benchmarks/speed/ours.hpp"
#include "tests/fitting/law_records.hpp"

namespace speed {
namespace {

using namespace fitting;

constexpr double kPortZone_m = 11e-3;

}  // namespace

HeatSet make_heat_joint() {
  HeatSet out;
  for (int pressure = 0; pressure < 4; ++pressure) {
    for (int spacers = 0; spacers < 3; ++spacers) {
      law_records::Plan plan;
      plan.pressure_Pa = 5e5 + pressure * 2e5 / 3.0;
      plan.spacers = spacers;
      plan.noise_N = 1.5;
      plan.seed = static_cast<unsigned>(10 + 3 * pressure + spacers);
      plan.cycles = 3;
      plan.rows_per_s = 91.3;
      out.records.push_back(law_records::sweep(plan));
    }
  }
  out.map.given = law_samples::fork();
  out.map.sweeps = static_cast<int>(out.records.size());
  // Nearer than the quasi-static start: from 30 % off every solver here finds a false minimum,
  // which is what many starts are for.
  const std::pair<LawIndex, double> free[] = {
      {kPositiveVolume, 1.1},     {kNegativeVolume, 0.9},   {kPreload, 1.3},
      {kFriction, 0.8},           {kPreslidingTravel, 1.2}, {kThermalTime, 1.2},
      {kNegativeThermalTime, 0.8}};
  out.start.resize(static_cast<Eigen::Index>(std::size(free)));
  int at = 0;
  for (const auto& [index, ratio] : free) {
    // As the product frees them: what must stay positive by its logarithm.
    FreeParameter parameter{index, index == kPreload ? Scale::linear : Scale::logarithmic};
    parameter.centre_SI = parameter.unit_SI = out.map.given[index];
    out.map.free.push_back(parameter);
    out.start(at++) = index == kPreload ? ratio - 1.0 : std::log(ratio);
  }
  return out;
}

HeatEvidence::HeatEvidence(const HeatSet& set, int threads) {
  paths.resize(set.records.size());
  for_each_parallel(static_cast<int>(paths.size()), threads, [&](int s) {
    const auto at = static_cast<std::size_t>(s);
    paths[at] = std::move(*make_path(set.records[at], kPortZone_m));
  });
  for (std::size_t s = 0; s < paths.size(); ++s) {
    const protocol::SweepRecord& record = set.records[s];
    const SweepModel model{GasLaw::wall_coefficient, law_samples::geometry(),
                           make_circumstances(record.metadata.setting), law_samples::kReference,
                           protocol::GasStart::equilibrium};
    sweeps.push_back(
        std::make_unique<SweepEvidence>(paths[s], model, set.map, static_cast<int>(s)));
    problem.evidence.push_back(sweeps.back().get());
  }
  for (const FreeParameter& free : set.map.free) {
    problem.parameters.push_back({std::string(kLawParameters[free.index].name)});
  }
}

HeatFit fit_heat(const HeatSet& set, int threads) {
  HeatFit out;
  const double begin = now_ms();
  const HeatEvidence evidence(set, threads);
  const double ready = now_ms();
  SolveOptions options;
  options.relative_cost_change = 1e-10;
  options.threads = threads;
  const Solution solution = solve_from(evidence.problem, set.start, options);
  out.solve_ms = now_ms() - ready;
  out.reduce_ms = ready - begin;
  out.values = solution.values;
  out.iterations = solution.iterations;
  const Eigen::MatrixXd square =
      equations_at(evidence.problem, solution.values).square.selfadjointView<Eigen::Lower>();
  out.deviations = square.inverse().diagonal().cwiseSqrt();
  return out;
}

}  // namespace speed
