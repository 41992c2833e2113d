#include "fitting/solve/bootstrap.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <random>

#include "fitting/solve/parallel.hpp"

namespace fitting {
namespace {

constexpr double kMostFailed = 0.05;  // share of the replicates
constexpr int kMostSteps = 6;
constexpr double kSmallStep = 1e-2;  // standard deviations: far below what a thousand draws show

// Every stroke of every evidence.
bool gather(const Problem& problem, const Eigen::VectorXd& values,
            std::vector<NormalEquations>& out) {
  out.clear();
  std::vector<NormalEquations> strokes;
  for (const Evidence* evidence : problem.evidence) {
    if (!evidence->condense_by_stroke(values, strokes)) return false;
    out.insert(out.end(), strokes.begin(), strokes.end());
  }
  return true;
}

struct Step {
  Eigen::VectorXd move;
  double largest = 0.0;  // in standard deviations
};

Step step_of(const Problem& problem, const std::vector<NormalEquations>& strokes,
             const std::vector<int>& drawn, const Eigen::VectorXd& values) {
  NormalEquations all;
  all.clear(problem.size());
  if (!problem.priors.empty()) all = prior_equations(problem, values);
  for (std::size_t i = 0; i < strokes.size(); ++i) {
    if (drawn[i] > 0) all.add(strokes[i], drawn[i]);
  }
  const Eigen::MatrixXd square = all.square.selfadjointView<Eigen::Lower>();
  Step out;
  out.move = square.ldlt().solve(-all.gradient);
  // Of a parameter alone: the least that its deviation can be, so that the test is strict.
  out.largest = out.move.cwiseProduct(square.diagonal().cwiseSqrt()).cwiseAbs().maxCoeff();
  return out;
}

std::vector<int> draw(std::size_t strokes, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::uniform_int_distribution<std::size_t> which(0, strokes - 1);
  std::vector<int> out(strokes, 0);
  for (std::size_t i = 0; i < strokes; ++i) ++out[which(random)];
  return out;
}

// The replicate's optimum less the solution; empty where it came to no end.
Eigen::VectorXd replicate(const Problem& problem, const std::vector<NormalEquations>& at_solution,
                          const Eigen::VectorXd& solution, const std::vector<int>& drawn) {
  Eigen::VectorXd values = solution;
  Step step = step_of(problem, at_solution, drawn, values);
  values += step.move;
  std::vector<NormalEquations> strokes;
  for (int i = 1; i < kMostSteps && step.largest > kSmallStep; ++i) {
    if (!gather(problem, values, strokes)) return {};
    step = step_of(problem, strokes, drawn, values);
    values += step.move;
  }
  if (!(step.largest <= kSmallStep) || !values.allFinite()) return {};
  return values - solution;
}

}  // namespace

Bootstrap bootstrap(const Problem& problem, const Eigen::VectorXd& solution,
                    const BootstrapOptions& options) {
  Bootstrap out;
  std::vector<NormalEquations> strokes;
  if (!gather(problem, solution, strokes)) {
    out.refused = "the model does not exist at the solution";
    return out;
  }
  out.strokes = static_cast<int>(strokes.size());
  if (out.strokes < kFewestStrokes) {
    out.refused = fmt::format(
        "{} strokes are too few to be drawn anew; it takes {}: sweep more cycles or settings",
        out.strokes, kFewestStrokes);
    return out;
  }
  std::vector<Eigen::VectorXd> moves(static_cast<std::size_t>(options.replicates));
  for_each_parallel(options.replicates, options.threads, [&](int i) {
    moves[static_cast<std::size_t>(i)] =
        replicate(problem, strokes, solution,
                  draw(strokes.size(), options.seed + static_cast<std::uint64_t>(i)));
  });
  Eigen::VectorXd mean = Eigen::VectorXd::Zero(problem.size());
  for (const Eigen::VectorXd& move : moves) {
    if (move.size() == 0) {
      ++out.failed;
      continue;
    }
    mean += move;
    ++out.replicates;
  }
  // What comes to no end lies far off: without it the spread would look too small.
  if (out.replicates < 2 || out.failed > kMostFailed * options.replicates) {
    out.refused = fmt::format("{} of {} replicates came to no end", out.failed, options.replicates);
    return out;
  }
  mean /= out.replicates;
  out.covariance.setZero(problem.size(), problem.size());
  for (const Eigen::VectorXd& move : moves) {
    if (move.size() > 0) out.covariance += (move - mean) * (move - mean).transpose();
  }
  out.covariance /= out.replicates - 1;
  return out;
}

}  // namespace fitting
