#include "fitting/compare/difference.hpp"

#include <fmt/core.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <random>

#include "fitting/compare/interpolate.hpp"

namespace fitting {
namespace {

constexpr double kCommonTravelMin_m = 0.005;

void add_square(Eigen::MatrixXd& covariance, const Eigen::VectorXd& shift) {
  covariance += shift * shift.transpose();
}

// Doubts of equal name and key move both curves together, so only what is left of their difference
// counts; any other stands alone.
void add_shared(Eigen::MatrixXd& covariance, const Side& a, const Eigen::MatrixXd& to_a,
                const Side& b, const Eigen::MatrixXd& to_b) {
  std::vector<bool> met(b.shared.size(), false);
  for (const SharedShift& of_a : a.shared) {
    Eigen::VectorXd shift = to_a * of_a.force_N;
    for (std::size_t k = 0; k < b.shared.size(); ++k) {
      const SharedShift& of_b = b.shared[k];
      if (met[k] || of_b.name != of_a.name || of_b.key != of_a.key) continue;
      shift -= to_b * of_b.force_N;
      met[k] = true;
      break;
    }
    add_square(covariance, shift);
  }
  for (std::size_t k = 0; k < b.shared.size(); ++k) {
    if (!met[k]) add_square(covariance, to_b * b.shared[k].force_N);
  }
}

}  // namespace

double Difference::mean_N(Eigen::Index first, Eigen::Index last) const {
  return difference_N.segment(first, last - first + 1).mean();
}

double Difference::mean_uncertainty_N(Eigen::Index first, Eigen::Index last) const {
  const Eigen::Index n = last - first + 1;
  return std::sqrt(std::max(0.0, covariance_N2.block(first, first, n, n).mean()));
}

double simultaneous_factor(const Eigen::MatrixXd& covariance, int draws, std::uint64_t seed) {
  std::vector<Eigen::Index> doubtful;
  for (Eigen::Index i = 0; i < covariance.rows(); ++i) {
    if (covariance(i, i) > 0.0) doubtful.push_back(i);
  }
  if (doubtful.empty()) return kPointwise95;
  const auto n = static_cast<Eigen::Index>(doubtful.size());
  Eigen::MatrixXd correlation(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    for (Eigen::Index j = 0; j < n; ++j) {
      const Eigen::Index p = doubtful[static_cast<std::size_t>(i)];
      const Eigen::Index q = doubtful[static_cast<std::size_t>(j)];
      correlation(i, j) =
          covariance(p, q) / std::sqrt(covariance(p, p)) / std::sqrt(covariance(q, q));
    }
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(correlation);
  const Eigen::VectorXd scale = solver.eigenvalues().cwiseMax(0.0).cwiseSqrt();
  // Directions that carry next to nothing are not worth their draws.
  Eigen::Index skip = 0;
  while (skip + 1 < n && scale(skip) < 1e-3 * scale(n - 1)) ++skip;
  const Eigen::MatrixXd root =
      solver.eigenvectors().rightCols(n - skip) * scale.tail(n - skip).asDiagonal();

  std::mt19937_64 engine(seed);
  std::normal_distribution<double> normal;
  Eigen::MatrixXd independent(n - skip, draws);
  for (Eigen::Index j = 0; j < independent.cols(); ++j) {
    for (Eigen::Index i = 0; i < independent.rows(); ++i) independent(i, j) = normal(engine);
  }
  const Eigen::RowVectorXd largest = (root * independent).cwiseAbs().colwise().maxCoeff();
  std::vector<double> sorted(largest.data(), largest.data() + largest.size());
  const auto place = sorted.begin() + static_cast<std::ptrdiff_t>(0.95 * draws);
  std::nth_element(sorted.begin(), place, sorted.end());
  return std::max(kPointwise95, *place);
}

protocol::Result<Difference> difference_of(const Side& a, const Side& b,
                                           const DifferenceOptions& options) {
  Difference result;
  result.covered_from_m = std::max(a.travel_m.front(), b.travel_m.front());
  result.covered_to_m = std::min(a.travel_m.back(), b.travel_m.back());
  const double covered_m = result.covered_to_m - result.covered_from_m;
  if (covered_m < kCommonTravelMin_m) {
    return protocol::Error{
        protocol::Errc::record_unusable,
        fmt::format("'{}' covers {:.1f} to {:.1f} mm and '{}' {:.1f} to {:.1f} mm: less than 5 mm "
                    "in common, so there is nothing to compare; sweep both further",
                    a.name, a.travel_m.front() * 1e3, a.travel_m.back() * 1e3, b.name,
                    b.travel_m.front() * 1e3, b.travel_m.back() * 1e3)};
  }
  const double from_m = result.covered_from_m + options.from_share * covered_m;
  const double to_m = result.covered_from_m + options.to_share * covered_m;
  const long cells = std::max(4L, std::lround((to_m - from_m) / options.step_m));
  result.step_m = (to_m - from_m) / static_cast<double>(cells);
  result.travel_m = even_grid_m(from_m, to_m, cells);
  const Eigen::MatrixXd to_a = interpolation(a.travel_m, result.travel_m);
  const Eigen::MatrixXd to_b = interpolation(b.travel_m, result.travel_m);
  result.difference_N = to_a * a.midline_N - to_b * b.midline_N;
  result.covariance_N2 =
      to_a * a.own_covariance_N2 * to_a.transpose() + to_b * b.own_covariance_N2 * to_b.transpose();
  add_shared(result.covariance_N2, a, to_a, b, to_b);
  if (options.mounts) {
    const Eigen::MatrixXd to_grid = held_interpolation(options.mounts->travel_m, result.travel_m);
    result.covariance_N2 +=
        options.mounts->share() * to_grid * options.mounts->covariance_N2 * to_grid.transpose();
  }
  result.standard_uncertainty_N = result.covariance_N2.diagonal().cwiseMax(0.0).cwiseSqrt();
  result.band_factor = simultaneous_factor(result.covariance_N2, options.draws, options.seed);
  return result;
}

}  // namespace fitting
