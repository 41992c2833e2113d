#include "fitting/curve/curve.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "fitting/curve/savitzky_golay.hpp"

namespace fitting {
namespace {

constexpr double kRateWindow_m = 0.007;

struct Run {
  std::size_t first = 0;
  std::size_t size = 0;
};

Run longest_valid_run(const std::vector<bool>& valid) {
  Run best;
  for (std::size_t i = 0, first = 0; i < valid.size(); ++i) {
    if (!valid[i]) {
      first = i + 1;
    } else if (i + 1 - first > best.size) {
      best = {first, i + 1 - first};
    }
  }
  return best;
}

Eigen::VectorXd stretch(const std::vector<double>& column, const Run& run) {
  return Eigen::Map<const Eigen::VectorXd>(column.data() + run.first,
                                           static_cast<Eigen::Index>(run.size));
}

}  // namespace

double Curve::standard_uncertainty_N(std::size_t i) const {
  const auto k = static_cast<Eigen::Index>(i);
  return std::sqrt(std::max(0.0, covariance_N2(k, k)));
}

protocol::Result<Curve> midline_curve(const Loop& loop) {
  const Run run = longest_valid_run(loop.valid);
  if (run.size < 5) {
    return protocol::Error{protocol::Errc::record_unusable,
                           fmt::format("only {} neighbouring points of travel are covered by the "
                                       "strokes; a curve needs at least 5",
                                       run.size)};
  }
  Curve curve;
  curve.grid_step_m = loop.grid_step_m;
  const auto first = loop.travel_m.begin() + static_cast<std::ptrdiff_t>(run.first);
  curve.travel_m.assign(first, first + static_cast<std::ptrdiff_t>(run.size));
  curve.force_N = stretch(loop.midline_N, run);
  const Eigen::VectorXd scatter_N = stretch(loop.midline_scatter_N, run);
  const Eigen::VectorXd backlash_N = stretch(loop.midline_backlash_N, run);
  curve.covariance_N2 = backlash_N * backlash_N.transpose();
  curve.covariance_N2.diagonal() += stretch(loop.midline_noise_N, run).cwiseAbs2();
  for (Eigen::Index i = 0; i < scatter_N.size(); ++i) {
    for (Eigen::Index j = 0; j < scatter_N.size(); ++j) {
      const double lag = static_cast<double>(i - j) * loop.grid_step_m / loop.scatter_length_m;
      curve.covariance_N2(i, j) += scatter_N(i) * scatter_N(j) * std::exp(-0.5 * lag * lag);
    }
  }
  return curve;
}

Rate local_rate(const Curve& curve) {
  const int window = 2 * static_cast<int>(std::lround(0.5 * kRateWindow_m / curve.grid_step_m)) + 1;
  const Eigen::MatrixXd filter = savitzky_golay_matrix(
      static_cast<int>(curve.size()), std::max(5, window), 2, 1, curve.grid_step_m);
  const Eigen::VectorXd rate_N_m = filter * curve.force_N;
  const Eigen::VectorXd variance =
      (filter * curve.covariance_N2).cwiseProduct(filter).rowwise().sum();
  Rate rate;
  for (Eigen::Index i = 0; i < rate_N_m.size(); ++i) {
    rate.rate_N_m.push_back(rate_N_m(i));
    rate.standard_uncertainty_N_m.push_back(std::sqrt(std::max(0.0, variance(i))));
  }
  return rate;
}

std::optional<double> force_at(const std::vector<double>& travel_m, const Eigen::VectorXd& force_N,
                               double wanted_m) {
  if (travel_m.size() < 2) return std::nullopt;
  // A grid point written as k * step may differ from a wanted travel by rounding alone.
  constexpr double kRounding_m = 1e-9;
  if (wanted_m < travel_m.front() - kRounding_m || wanted_m > travel_m.back() + kRounding_m) {
    return std::nullopt;
  }
  auto right = std::upper_bound(travel_m.begin() + 1, travel_m.end() - 1, wanted_m);
  const auto i = static_cast<Eigen::Index>(right - travel_m.begin());
  const double left_m = *(right - 1);
  const double share = (wanted_m - left_m) / (*right - left_m);
  return force_N(i - 1) + share * (force_N(i) - force_N(i - 1));
}

std::optional<double> work_J(const std::vector<double>& travel_m, const Eigen::VectorXd& force_N,
                             double from_m, double to_m) {
  const std::optional<double> first_N = force_at(travel_m, force_N, from_m);
  const std::optional<double> last_N = force_at(travel_m, force_N, to_m);
  if (!first_N || !last_N || to_m < from_m) return std::nullopt;
  double work = 0.0;
  double before_m = from_m;
  double before_N = *first_N;
  for (std::size_t i = 0; i < travel_m.size(); ++i) {
    if (travel_m[i] <= from_m || travel_m[i] >= to_m) continue;
    const double here_N = force_N(static_cast<Eigen::Index>(i));
    work += 0.5 * (before_N + here_N) * (travel_m[i] - before_m);
    before_m = travel_m[i];
    before_N = here_N;
  }
  return work + 0.5 * (before_N + *last_N) * (to_m - before_m);
}

double loop_area_J(const std::vector<double>& travel_m, const std::vector<double>& force_N) {
  double area = 0.0;
  for (std::size_t i = 0; i < travel_m.size(); ++i) {
    const std::size_t next = (i + 1) % travel_m.size();
    area += 0.5 * (force_N[i] + force_N[next]) * (travel_m[next] - travel_m[i]);
  }
  return area;
}

std::optional<double> travel_at_force(const std::vector<double>& travel_m,
                                      const Eigen::VectorXd& force_N, double wanted_N) {
  for (std::size_t i = 1; i < travel_m.size(); ++i) {
    const double before_N = force_N(static_cast<Eigen::Index>(i - 1));
    const double here_N = force_N(static_cast<Eigen::Index>(i));
    // Written so that a NaN, a point not measured, never counts.
    if (!(before_N <= wanted_N && here_N >= wanted_N)) continue;
    if (here_N == before_N) return travel_m[i - 1];
    const double share = (wanted_N - before_N) / (here_N - before_N);
    return travel_m[i - 1] + share * (travel_m[i] - travel_m[i - 1]);
  }
  return std::nullopt;
}

}  // namespace fitting
