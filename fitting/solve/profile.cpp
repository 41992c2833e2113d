#include "fitting/solve/profile.hpp"

#include <cmath>

namespace fitting {
namespace {

constexpr double kHeld = 1e-6;      // standard uncertainty of a prior that holds, of the deviation
constexpr double kFarthest = 16.0;  // deviations, beyond which the data are taken not to object
constexpr double kCloseEnough = 0.02;  // of the misfit's rise
constexpr int kMostSteps = 12;

// The misfit with one parameter held and the others fitted, each from where the last ended.
class Held {
 public:
  Held(const Problem& problem, const Eigen::VectorXd& solution, int position, double deviation,
       const SolveOptions& options)
      : problem_(problem), options_(options), values_(solution), position_(position) {
    problem_.priors.push_back({{{position, 1.0}}, solution(position), kHeld * deviation});
  }

  // RETURNS: infinity where no fit is found.
  double cost_at_value(double value) {
    problem_.priors.back().target = value;
    Eigen::VectorXd start = values_;
    start(position_) = value;
    const Solution solution = solve_from(problem_, start, options_);
    if (!std::isfinite(solution.cost)) return solution.cost;
    values_ = solution.values;
    return solution.cost;
  }

 private:
  Problem problem_;
  SolveOptions options_;
  Eigen::VectorXd values_;
  int position_;
};

std::optional<double> find_end(const Problem& problem, const Eigen::VectorXd& solution,
                               int position, double deviation, double side,
                               const SolveOptions& options) {
  Held held(problem, solution, position, deviation, options);
  const double least = held.cost_at_value(solution(position));
  const double limit = least + kProfile95;
  const Parameter& parameter = problem.parameters[static_cast<std::size_t>(position)];
  // Outward until the data object; then between the last two by secants on the root of the rise,
  // which is nearly straight.
  double inside = 0.0;
  double inside_root = 0.0;
  double outside = 2.0;
  for (int step = 0; step < kMostSteps; ++step) {
    const double value = solution(position) + side * outside * deviation;
    if (value <= parameter.low || value >= parameter.high) return std::nullopt;
    const double rise = std::max(0.0, held.cost_at_value(value) - least);
    if (std::abs(rise - kProfile95) < kCloseEnough * kProfile95) return value;
    const double root = std::sqrt(rise);
    const double wanted = std::sqrt(kProfile95);
    if (least + rise < limit) {
      // A straight line through the last two says where; never more than twice as far.
      const double slope = (root - inside_root) / (outside - inside);
      const double next = slope > 0.0 ? outside + (wanted - root) / slope : 2.0 * outside;
      inside = outside;
      inside_root = root;
      outside = std::min(next, 2.0 * outside);
      if (outside > kFarthest) return std::nullopt;
      continue;
    }
    const double slope = (root - inside_root) / (outside - inside);
    outside =
        std::isfinite(root) ? inside + (wanted - inside_root) / slope : 0.5 * (inside + outside);
  }
  return solution(position) + side * outside * deviation;
}

}  // namespace

ProfileEnds profile(const Problem& problem, const Eigen::VectorXd& solution, int position,
                    double deviation, const SolveOptions& options) {
  return {find_end(problem, solution, position, deviation, -1.0, options),
          find_end(problem, solution, position, deviation, +1.0, options)};
}

}  // namespace fitting
