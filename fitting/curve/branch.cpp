#include "fitting/curve/branch.hpp"

#include "fitting/curve/dwells.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace fitting {
namespace {

constexpr double kPoolHalfWidth_m = 0.010;  // the variance between few cycles is pooled over this
constexpr double kReachShare = 0.2;         // of a cell, that a stroke may end short of its point
constexpr double kScatterLengthMin_m = 0.002;
constexpr double kScatterLengthMax_m = 0.060;

struct Point {
  double travel_m;
  double force_N;
};

std::vector<Point> points_by_travel(const protocol::SweepRecord& record, const Stroke& stroke,
                                    double travel_shift_m) {
  std::vector<Point> points;
  points.reserve(stroke.size());
  const StrokeMotion motion = motion_of(record, stroke);
  for (std::size_t i = stroke.first_row; i < stroke.moving_end; ++i) {
    if (motion.resting[i - stroke.first_row]) continue;
    points.push_back({record.travel_m[i] + travel_shift_m, record.force_N[i]});
  }
  // A single stroke runs one way but for its jitter; in order of travel a cell is one range.
  std::stable_sort(points.begin(), points.end(),
                   [](const Point& a, const Point& b) { return a.travel_m < b.travel_m; });
  return points;
}

struct Estimate {
  double force_N = kNotMeasured;
  double variance_factor = 0.0;  // variance in units of that of one reading
};

// Straight line through the points, evaluated at a travel. Fewer than three, or all at one travel:
// no estimate.
Estimate line_at(const Point* first, const Point* last, double travel_m) {
  const double n = static_cast<double>(last - first);
  if (n < 3.0) return {};
  double mean_x = 0.0;
  double mean_F = 0.0;
  for (const Point* p = first; p != last; ++p) {
    mean_x += p->travel_m / n;
    mean_F += p->force_N / n;
  }
  double sxx = 0.0;
  double sxF = 0.0;
  for (const Point* p = first; p != last; ++p) {
    sxx += (p->travel_m - mean_x) * (p->travel_m - mean_x);
    sxF += (p->travel_m - mean_x) * (p->force_N - mean_F);
  }
  const double away = travel_m - mean_x;
  const double span = (last - 1)->travel_m - first->travel_m;
  // Points crowded at one travel say nothing about a slope.
  if (span <= 0.0 || std::abs(away) > span) return {};
  return {mean_F + away * sxF / sxx, 1.0 / n + away * away / sxx};
}

Estimate between(const Point& left, const Point& right, double travel_m) {
  const double span = right.travel_m - left.travel_m;
  if (span <= 0.0) return {0.5 * (left.force_N + right.force_N), 0.5};
  const double share = (travel_m - left.travel_m) / span;
  return {left.force_N + share * (right.force_N - left.force_N),
          share * share + (1.0 - share) * (1.0 - share)};
}

// Moving mean of the variance between cycles, where at least two cover.
std::vector<double> pooled(const std::vector<double>& variance_N2, double step_m) {
  const long half = std::lround(kPoolHalfWidth_m / step_m);
  const long n = static_cast<long>(variance_N2.size());
  std::vector<double> result(variance_N2.size(), 0.0);
  for (long i = 0; i < n; ++i) {
    double sum = 0.0;
    int count = 0;
    for (long j = std::max(0L, i - half); j <= std::min(n - 1, i + half); ++j) {
      const double v = variance_N2[static_cast<std::size_t>(j)];
      if (!std::isnan(v)) sum += v, ++count;
    }
    if (count > 0) result[static_cast<std::size_t>(i)] = sum / count;
  }
  return result;
}

// A scatter seen in a few cycles only is itself in doubt: widened so that 1.96 of it still covers
// 95 % (Student's quantile over the normal one), with the two strokes of each cycle as witnesses.
double few_cycles_factor(int cycles) {
  switch (cycles) {
    case 2:
      return 4.303 / 1.960;  // 2 degrees of freedom
    case 3:
      return 2.776 / 1.960;  // 4
    case 4:
      return 2.447 / 1.960;  // 6
    case 5:
      return 2.306 / 1.960;  // 8
    default:
      // The first term of the quantile's expansion in 1 / degrees of freedom.
      return 1.0 + (1.960 * 1.960 + 1.0) / (4.0 * 2.0 * (cycles - 1));
  }
}

// Lag at which the likeness of the cycles' deviations has fallen to exp(-1/2), noise taken out.
double likeness_length_m(const std::vector<std::vector<double>>& deviations, double noise_N2,
                         double step_m) {
  const std::size_t lags = static_cast<std::size_t>(std::lround(kScatterLengthMax_m / step_m));
  double at_zero = 0.0;
  for (std::size_t lag = 0; lag <= lags; ++lag) {
    double sum = 0.0;
    std::size_t count = 0;
    for (const std::vector<double>& deviation : deviations) {
      for (std::size_t i = 0; i + lag < deviation.size(); ++i) {
        const double product = deviation[i] * deviation[i + lag];
        if (!std::isnan(product)) sum += product, ++count;
      }
    }
    if (count == 0) return 0.0;
    const double covariance = sum / static_cast<double>(count);
    if (lag == 0) at_zero = covariance - noise_N2;
    if (at_zero <= 0.1 * noise_N2) return 0.0;
    if (covariance < std::exp(-0.5) * at_zero && lag > 0) {
      return std::max(kScatterLengthMin_m, static_cast<double>(lag) * step_m);
    }
  }
  return kScatterLengthMax_m;
}

}  // namespace

double force_noise_N(const protocol::SweepRecord& record, const Stroke& stroke) {
  std::vector<double> distances;
  for (std::size_t i = stroke.first_row + 1; i + 1 < stroke.moving_end; ++i) {
    const double before = record.travel_m[i] - record.travel_m[i - 1];
    const double span = record.travel_m[i + 1] - record.travel_m[i - 1];
    const double share = span != 0.0 ? before / span : 0.5;
    if (share < 0.0 || share > 1.0) continue;
    const double line =
        record.force_N[i - 1] + share * (record.force_N[i + 1] - record.force_N[i - 1]);
    const double factor = 1.0 + share * share + (1.0 - share) * (1.0 - share);
    distances.push_back(std::abs(record.force_N[i] - line) / std::sqrt(factor));
  }
  if (distances.empty()) return 0.0;
  const auto middle = distances.begin() + static_cast<std::ptrdiff_t>(distances.size() / 2);
  std::nth_element(distances.begin(), middle, distances.end());
  return *middle / 0.6745;  // the median of |normal| in standard deviations
}

SampledStroke sample_stroke(const protocol::SweepRecord& record, const Stroke& stroke,
                            double travel_shift_m, const Grid& grid) {
  SampledStroke sampled;
  sampled.force_N.assign(grid.size, kNotMeasured);
  sampled.noise_N.assign(grid.size, kNotMeasured);
  const std::vector<Point> points = points_by_travel(record, stroke, travel_shift_m);
  if (points.size() < 2) return sampled;
  const double noise_N = force_noise_N(record, stroke);
  const auto below = [](const Point& p, double x) { return p.travel_m < x; };
  const double reach_m = kReachShare * grid.step_m;
  for (std::size_t i = 0; i < grid.size; ++i) {
    const double x = grid.travel_m(i);
    if (x < points.front().travel_m - reach_m || x > points.back().travel_m + reach_m) continue;
    const auto first = std::lower_bound(points.begin(), points.end(), x - 0.5 * grid.step_m, below);
    const auto last = std::lower_bound(first, points.end(), x + 0.5 * grid.step_m, below);
    Estimate estimate = line_at(&*points.begin() + (first - points.begin()),
                                &*points.begin() + (last - points.begin()), x);
    if (std::isnan(estimate.force_N)) {
      auto right = std::lower_bound(points.begin(), points.end(), x, below);
      if (right == points.end()) --right;
      if (right == points.begin()) ++right;
      estimate = between(*(right - 1), *right, x);
    }
    sampled.force_N[i] = estimate.force_N;
    sampled.noise_N[i] = noise_N * std::sqrt(estimate.variance_factor);
  }
  return sampled;
}

Averaged average_strokes(const std::vector<SampledStroke>& strokes, const Grid& grid) {
  Averaged result;
  Branch& branch = result.branch;
  branch.force_N.assign(grid.size, kNotMeasured);
  branch.noise_N.assign(grid.size, kNotMeasured);
  branch.scatter_N.assign(grid.size, kNotMeasured);
  std::vector<int> covered(grid.size, 0);
  std::vector<double> variance_N2(grid.size, kNotMeasured);
  std::vector<std::vector<double>> deviations(strokes.size(),
                                              std::vector<double>(grid.size, kNotMeasured));
  double noise_sum_N2 = 0.0;
  for (std::size_t i = 0; i < grid.size; ++i) {
    double sum_N = 0.0;
    double noise_N2 = 0.0;
    for (const SampledStroke& stroke : strokes) {
      if (std::isnan(stroke.force_N[i])) continue;
      sum_N += stroke.force_N[i];
      noise_N2 += stroke.noise_N[i] * stroke.noise_N[i];
      ++covered[i];
    }
    if (covered[i] == 0) continue;
    const double n = covered[i];
    branch.force_N[i] = sum_N / n;
    branch.noise_N[i] = std::sqrt(noise_N2) / n;
    branch.strokes = std::max(branch.strokes, covered[i]);
    if (covered[i] < 2) continue;
    double squares_N2 = 0.0;
    for (std::size_t k = 0; k < strokes.size(); ++k) {
      deviations[k][i] = strokes[k].force_N[i] - branch.force_N[i];
      if (!std::isnan(deviations[k][i])) squares_N2 += deviations[k][i] * deviations[k][i];
      // A deviation from a mean of n is smaller than one from the truth.
      deviations[k][i] *= std::sqrt(n / (n - 1.0));
    }
    variance_N2[i] = squares_N2 / (n - 1.0);
    result.variance_sum_N2 += variance_N2[i];
    ++result.variance_points;
    noise_sum_N2 += noise_N2 / n;
  }
  const std::vector<double> between_N2 = pooled(variance_N2, grid.step_m);
  for (std::size_t i = 0; i < grid.size; ++i) {
    if (covered[i] == 0) continue;
    const double mean_N2 = between_N2[i] / covered[i];
    const double noise_N2 = branch.noise_N[i] * branch.noise_N[i];
    const double factor = covered[i] > 1 ? few_cycles_factor(covered[i]) : 1.0;
    branch.scatter_N[i] = factor * std::sqrt(std::max(0.0, mean_N2 - noise_N2));
  }
  if (result.variance_points > 0) {
    const double noise_N2 = noise_sum_N2 / static_cast<double>(result.variance_points);
    result.scatter_length_m = likeness_length_m(deviations, noise_N2, grid.step_m);
  }
  return result;
}

}  // namespace fitting
