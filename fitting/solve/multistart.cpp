#include "fitting/solve/multistart.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include "fitting/solve/parallel.hpp"

namespace fitting {
namespace {

struct Candidate {
  Eigen::VectorXd values;
  double cost = 0.0;
};

std::vector<Candidate> draw(const Problem& problem, const Eigen::VectorXd& spread,
                            const MultistartOptions& options) {
  std::mt19937_64 random(options.seed);
  std::uniform_real_distribution<double> uniform(-1.0, 1.0);
  std::vector<Candidate> out(static_cast<std::size_t>(options.candidates));
  for (Candidate& candidate : out) {
    candidate.values.resize(problem.size());
    for (int i = 0; i < problem.size(); ++i) {
      const Parameter& parameter = problem.parameters[static_cast<std::size_t>(i)];
      candidate.values(i) =
          std::clamp(parameter.start + spread(i) * uniform(random), parameter.low, parameter.high);
    }
  }
  return out;
}

bool lower_cost(const Candidate& a, const Candidate& b) {
  return a.cost < b.cost;
}

}  // namespace

MultistartOutcome solve_many(const Problem& problem, const Eigen::VectorXd& spread,
                             const std::vector<Eigen::VectorXd>& given,
                             const MultistartOptions& options) {
  std::vector<Candidate> drawn = draw(problem, spread, options);
  for_each_parallel(static_cast<int>(drawn.size()), options.threads, [&](int i) {
    Candidate& candidate = drawn[static_cast<std::size_t>(i)];
    candidate.cost = cost_at(problem, candidate.values);
  });
  std::stable_sort(drawn.begin(), drawn.end(), lower_cost);

  std::vector<Eigen::VectorXd> starts;
  Eigen::VectorXd zero(problem.size());
  for (int i = 0; i < problem.size(); ++i)
    zero(i) = problem.parameters[static_cast<std::size_t>(i)].start;
  starts.push_back(zero);
  starts.insert(starts.end(), given.begin(), given.end());
  for (const Candidate& candidate : drawn) {
    if (static_cast<int>(starts.size()) >= options.solved) break;
    if (std::isfinite(candidate.cost)) starts.push_back(candidate.values);
  }

  std::vector<Solution> solutions(starts.size());
  for_each_parallel(static_cast<int>(starts.size()), options.threads, [&](int i) {
    const auto at = static_cast<std::size_t>(i);
    solutions[at] = solve_from(problem, starts[at], options.solve);
  });

  MultistartOutcome outcome;
  outcome.started = static_cast<int>(starts.size());
  std::stable_sort(solutions.begin(), solutions.end(),
                   [](const Solution& a, const Solution& b) { return a.cost < b.cost; });
  outcome.best = solutions.front();
  for (Solution& solution : solutions) {
    if (solution.converged) outcome.minima.push_back(std::move(solution));
  }
  return outcome;
}

}  // namespace fitting
