#include "fitting/solve/law_run.hpp"

#include <algorithm>
#include <cmath>

namespace fitting {
namespace {

// What a first solve takes the model's own error to be.
constexpr double kFirstErrorShare = 0.003;           // of the largest force
constexpr double kFirstCorrelationShare = 1.0 / 12;  // of the swept travel
constexpr double kDistinct = 0.02;                   // of a logarithm: two minima are not the same
constexpr int kMinimaKept = 4;
constexpr double kHeldTightly = 1e-6;

SolveOptions start_options() {
  SolveOptions out;
  out.iterations_max = 60;
  out.relative_cost_change = 1e-7;
  return out;
}

SolveOptions final_options(int threads) {
  SolveOptions out;
  out.iterations_max = 100;
  out.relative_cost_change = 1e-10;
  out.threads = threads;
  return out;
}

ResidualStructure first_structure(const LawRun& run, const FitInput& input) {
  const Eigen::VectorXd centre = Eigen::VectorXd::Zero(run.map.size());
  std::vector<Eigen::VectorXd> none;
  for (const auto& sweep : run.sweeps) none.push_back(Eigen::VectorXd::Zero(sweep->rows()));
  ResidualStructure out = find_structure(run.sweep_list(), none);
  out.structured_N = kFirstErrorShare * input.largest_force_N;
  out.correlation_length_m = kFirstCorrelationShare * input.largest_travel_m;
  return out;
}

bool distinct(const Solution& a, const Solution& b) {
  return (a.values - b.values).lpNorm<Eigen::Infinity>() > kDistinct;
}

std::vector<Solution> distinct_minima(const std::vector<Solution>& minima) {
  std::vector<Solution> out;
  for (const Solution& minimum : minima) {
    const bool known = std::any_of(
        out.begin(), out.end(), [&](const Solution& other) { return !distinct(minimum, other); });
    if (!known) out.push_back(minimum);
    if (static_cast<int>(out.size()) == kMinimaKept) break;
  }
  return out;
}

// The other form's values where both have the parameter, the start elsewhere.
Eigen::VectorXd carried_over(const LawRun& from, const ParameterMap& to) {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(to.size());
  for (int i = 0; i < to.shared_size(); ++i) {
    const int at = from.map.position_of(to.free[static_cast<std::size_t>(i)].index);
    if (at >= 0) out(i) = from.solution.values(at);
  }
  if (to.fill_errors) out.tail(to.sweeps) = from.solution.values.tail(to.sweeps);
  return out;
}

void add_evidence(const FitInput& input, LawRun& run) {
  const Geometry geometry = make_geometry(input.fork);
  // The reduction knows the gas only; a coil's corners are followed by cells.
  const bool reduces = run.form.gas == GasLaw::exponent && geometry.has_piston;
  // Not to be moved once something refers to them.
  if (reduces) run.reductions.reserve(input.records.size());
  for (std::size_t s = 0; s < input.paths.size(); ++s) {
    const protocol::SweepRecord& record = input.records[s];
    const SweepModel model{run.form.gas, geometry, make_circumstances(record.metadata.setting),
                           thermal_reference(input), record.metadata.setting.start};
    const int sweep = static_cast<int>(s);
    run.sweeps.push_back(std::make_unique<SweepEvidence>(input.paths[s], model, run.map, sweep));
    if (!reduces) {
      run.problem.evidence.push_back(run.sweeps.back().get());
      continue;
    }
    // The path was made of the same strokes: they exist.
    run.reductions.push_back(reduce(record, *split_strokes(record), geometry));
    run.reduced.push_back(
        std::make_unique<ReducedEvidence>(run.reductions.back(), model, run.map, sweep));
    run.problem.evidence.push_back(run.reduced.back().get());
  }
}

// A parameter at its bound has no uncertainty that a linearisation could give: it is held there.
void hold_at_bounds(LawRun& run) {
  for (int i = 0; i < run.map.shared_size(); ++i) {
    const Parameter& parameter = run.problem.parameters[static_cast<std::size_t>(i)];
    const double value = run.solution.values(i);
    if (value - parameter.low > kHeldTightly && parameter.high - value > kHeldTightly) continue;
    run.at_bound.push_back(i);
    run.problem.priors.push_back({{{i, 1.0}}, value, kHeldTightly});
  }
}

}  // namespace

void weigh(LawRun& run, const ResidualStructure& structure) {
  const double variance_N2 = structure.sample_variance_N2();
  for (const auto& sweep : run.sweeps) sweep->set_sample_variance(variance_N2);
  for (const auto& sweep : run.reduced) sweep->set_sample_variance(variance_N2);
}

std::unique_ptr<LawRun> make_run(const FitInput& input, const LawForm& form) {
  auto run = std::make_unique<LawRun>();
  run->form = form;
  run->map = make_parameter_map(input, form);
  run->problem = make_problem(run->map, input);
  add_evidence(input, *run);
  return run;
}

std::vector<const SweepEvidence*> LawRun::sweep_list() const {
  std::vector<const SweepEvidence*> out;
  for (const auto& sweep : sweeps) out.push_back(sweep.get());
  return out;
}

Problem LawRun::by_cells() const {
  Problem out = problem;
  out.evidence.clear();
  for (const auto& sweep : sweeps) out.evidence.push_back(sweep.get());
  return out;
}

std::vector<Eigen::VectorXd> LawRun::residuals_N(const Eigen::VectorXd& values) const {
  std::vector<Eigen::VectorXd> out;
  for (const auto& sweep : sweeps) {
    Eigen::VectorXd residual_N;
    ENSURE(sweep->simulate(values, residual_N, nullptr));
    for (int i = 0; i < sweep->rows(); ++i) residual_N(i) -= sweep->node(i).force_N;
    out.push_back(std::move(residual_N));
  }
  return out;
}

std::unique_ptr<LawRun> run_law(const FitInput& input, const LawForm& form,
                                const FitOptions& options, const LawRun* found) {
  std::unique_ptr<LawRun> run = make_run(input, form);
  weigh(*run, first_structure(*run, input));

  MultistartOptions many;
  many.candidates = options.candidates;
  many.solved = options.starts;
  many.threads = options.threads;
  many.seed = options.seed;
  many.solve = start_options();
  std::vector<Eigen::VectorXd> given;
  if (found != nullptr && found->exists()) given.push_back(carried_over(*found, run->map));
  const MultistartOutcome outcome = solve_many(run->problem, start_spread(run->map), given, many);
  run->started = outcome.started;
  run->solution = outcome.best;
  if (!std::isfinite(outcome.best.cost)) return run;

  // Twice: the second solve moves the residual a little, and with it the weights.
  std::vector<Solution> minima = distinct_minima(outcome.minima);
  for (int pass = 0; pass < 2; ++pass) {
    run->structure = find_structure(run->sweep_list(), run->residuals_N(run->solution.values));
    weigh(*run, run->structure);
    run->solution = solve_from(run->problem, run->solution.values, final_options(options.threads));
  }
  // The first of the minima is the best solution itself, unless that had not come to an end.
  for (std::size_t i = outcome.best.converged ? 1 : 0; i < minima.size(); ++i) {
    Solution other = solve_from(run->problem, minima[i].values, final_options(options.threads));
    if (other.cost < run->solution.cost) std::swap(other, run->solution);
    if (distinct(other, run->solution)) run->other_minima.push_back(std::move(other));
  }
  run->structure = find_structure(run->sweep_list(), run->residuals_N(run->solution.values));
  hold_at_bounds(*run);
  return run;
}

}  // namespace fitting
