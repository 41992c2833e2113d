#include "fitting/ride/ridden.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "protocol/error.hpp"

namespace fitting {
namespace {

// Visits every stretch between neighbouring samples that no gap parts: (from, to, seconds).
template <class Visit>
void for_each_stretch(const RideTrace& trace, Visit visit) {
  for (std::size_t i = 0; i + 1 < trace.size(); ++i) {
    if (trace.gap_after[i]) continue;
    visit(trace.travel_m[i], trace.travel_m[i + 1], trace.time_s[i + 1] - trace.time_s[i]);
  }
}

// Slope of a line through the samples near one, not across a gap.
double speed_at(const RideTrace& trace, std::size_t i) {
  std::size_t first = i;
  std::size_t last = i;
  const auto near = [&](std::size_t other) {
    return std::abs(trace.time_s[other] - trace.time_s[i]) <= kSpeedReach_s;
  };
  while (first > 0 && !trace.gap_after[first - 1] && (first == i || near(first - 1))) --first;
  while (last + 1 < trace.size() && !trace.gap_after[last] && (last == i || near(last + 1))) ++last;
  double sum_t = 0.0, sum_x = 0.0, sum_tt = 0.0, sum_tx = 0.0;
  for (std::size_t k = first; k <= last; ++k) {
    const double t = trace.time_s[k] - trace.time_s[i];
    const double x = trace.travel_m[k] - trace.travel_m[i];
    sum_t += t;
    sum_x += x;
    sum_tt += t * t;
    sum_tx += t * x;
  }
  const double n = static_cast<double>(last - first + 1);
  const double spread = sum_tt - sum_t * sum_t / n;
  return spread > 0.0 ? (sum_tx - sum_t * sum_x / n) / spread : 0.0;
}

// REQUIRES: ascending values.
double quantile_by_time(const std::vector<WeightedSpeed>& sorted, double share) {
  double total_s = 0.0;
  for (const WeightedSpeed& each : sorted) total_s += each.time_s;
  if (total_s <= 0.0) return std::numeric_limits<double>::quiet_NaN();
  double below_s = 0.0;
  for (const WeightedSpeed& each : sorted) {
    below_s += each.time_s;
    if (below_s >= share * total_s) return each.speed_m_s;
  }
  return sorted.back().speed_m_s;
}

// Ways between turning points, those shorter than the smallest turn taken for jitter.
void measure_way(const RideTrace& trace, std::size_t first, std::size_t last, RideSummary& out) {
  double low_m = trace.travel_m[first];
  double high_m = low_m;
  double turned_m = low_m;
  int direction = 0;
  const auto go = [&](double from_m, double to_m) {
    (to_m > from_m ? out.compressed_m : out.extended_m) += std::abs(to_m - from_m);
  };
  for (std::size_t i = first; i <= last; ++i) {
    const double x_m = trace.travel_m[i];
    low_m = std::min(low_m, x_m);
    high_m = std::max(high_m, x_m);
    if (direction >= 0 && high_m - x_m >= kSmallestTurn_m) {
      if (direction > 0 || high_m > turned_m) go(turned_m, high_m);
      turned_m = high_m;
      low_m = x_m;
      direction = -1;
    } else if (direction <= 0 && x_m - low_m >= kSmallestTurn_m) {
      if (direction < 0 || low_m < turned_m) go(turned_m, low_m);
      turned_m = low_m;
      high_m = x_m;
      direction = +1;
    }
  }
  if (direction != 0) go(turned_m, direction > 0 ? high_m : low_m);
}

}  // namespace

TimeByTravel::TimeByTravel(const RideTrace& trace, double cell_m) : cell_m_(cell_m) {
  ENSURE(cell_m > 0.0 && trace.fork_travel_m > cell_m);
  const auto cells = static_cast<std::size_t>(std::ceil(trace.fork_travel_m / cell_m - 1e-9));
  std::vector<double> in_cell_s(cells, 0.0);
  const auto cell_of = [&](double travel_m) {
    const double at = std::floor(travel_m / cell_m);
    return static_cast<std::size_t>(std::clamp(at, 0.0, static_cast<double>(cells - 1)));
  };
  for_each_stretch(trace, [&](double from_m, double to_m, double span_s) {
    total_s_ += span_s;
    const double low_m = std::min(from_m, to_m);
    const double high_m = std::max(from_m, to_m);
    const std::size_t first = cell_of(low_m);
    const std::size_t last = cell_of(high_m);
    if (first == last) {
      in_cell_s[first] += span_s;
      return;
    }
    // Travel is straight: each cell gets the share of the way that lies in it.
    double begun_m = low_m;
    for (std::size_t cell = first; cell <= last; ++cell) {
      const double end_m = cell == last ? high_m : cell_m * static_cast<double>(cell + 1);
      in_cell_s[cell] += span_s * (end_m - begun_m) / (high_m - low_m);
      begun_m = end_m;
    }
  });
  beyond_s_.assign(cells + 1, 0.0);
  for (std::size_t cell = cells; cell-- > 0;) {
    beyond_s_[cell] = beyond_s_[cell + 1] + in_cell_s[cell];
  }
}

double TimeByTravel::share_beyond(double travel_m) const {
  const double at = travel_m / cell_m_;
  if (at <= 0.0) return 1.0;
  if (at >= static_cast<double>(edges() - 1)) return 0.0;
  const auto edge = static_cast<std::size_t>(at);
  const double share = at - static_cast<double>(edge);
  return (1.0 - share) * share_beyond(edge) + share * share_beyond(edge + 1);
}

double TimeByTravel::travel_of_share(double share) const {
  for (std::size_t edge = 1; edge < edges(); ++edge) {
    const double here = share_beyond(edge);
    if (here > share) continue;
    const double before = share_beyond(edge - 1);
    const double part = before > here ? (before - share) / (before - here) : 0.0;
    return cell_m_ * (static_cast<double>(edge - 1) + std::clamp(part, 0.0, 1.0));
  }
  return cell_m_ * static_cast<double>(edges() - 1);
}

std::vector<WeightedSpeed> speeds_of(const RideTrace& trace) {
  std::vector<WeightedSpeed> out(trace.size());
  for (std::size_t i = 0; i < trace.size(); ++i) out[i].speed_m_s = speed_at(trace, i);
  for (std::size_t i = 0; i + 1 < trace.size(); ++i) {
    if (trace.gap_after[i]) continue;
    const double half_s = 0.5 * (trace.time_s[i + 1] - trace.time_s[i]);
    out[i].time_s += half_s;
    out[i + 1].time_s += half_s;
  }
  return out;
}

RideSummary summarise(const RideTrace& trace, const std::vector<WeightedSpeed>& speeds) {
  RideSummary out;
  double area = 0.0;
  for_each_stretch(trace, [&](double from_m, double to_m, double span_s) {
    out.time_s += span_s;
    area += 0.5 * (from_m + to_m) * span_s;
  });
  if (out.time_s > 0.0) out.mean_m = area / out.time_s;
  out.deepest_m = *std::max_element(trace.travel_m.begin(), trace.travel_m.end());
  std::size_t first = 0;
  for (std::size_t i = 0; i < trace.size(); ++i) {
    const bool ends = i + 1 == trace.size() || trace.gap_after[i];
    if (!ends) continue;
    measure_way(trace, first, i, out);
    first = i + 1;
  }
  double still_s = 0.0;
  for (const WeightedSpeed& each : speeds) {
    if (std::abs(each.speed_m_s) < kStill_m_s) still_s += each.time_s;
  }
  if (out.time_s > 0.0) out.still_share = still_s / out.time_s;
  return out;
}

SpeedQuantiles speed_quantiles(const std::vector<WeightedSpeed>& speeds,
                               const std::vector<double>& shares) {
  std::vector<WeightedSpeed> compression;
  std::vector<WeightedSpeed> extension;
  for (const WeightedSpeed& each : speeds) {
    if (each.speed_m_s >= kStill_m_s) compression.push_back(each);
    if (each.speed_m_s <= -kStill_m_s) extension.push_back({-each.speed_m_s, each.time_s});
  }
  const auto ascending = [](const WeightedSpeed& a, const WeightedSpeed& b) {
    return a.speed_m_s < b.speed_m_s;
  };
  std::sort(compression.begin(), compression.end(), ascending);
  std::sort(extension.begin(), extension.end(), ascending);
  SpeedQuantiles out;
  for (double share : shares) {
    out.compression_m_s.push_back(quantile_by_time(compression, share));
    out.extension_m_s.push_back(quantile_by_time(extension, share));
  }
  return out;
}

RiddenDifference weigh_by_ride(const Difference& difference,
                               const std::vector<const TimeByTravel*>& rides) {
  RiddenDifference out;
  const double half_m = 0.5 * difference.step_m;
  Eigen::VectorXd weight = Eigen::VectorXd::Zero(difference.size());
  for (const TimeByTravel* ride : rides) {
    for (Eigen::Index i = 0; i < weight.size(); ++i) {
      const double at_m = difference.travel_m[static_cast<std::size_t>(i)];
      const double low_m = std::max(difference.from_m(), at_m - half_m);
      const double high_m = std::min(difference.to_m(), at_m + half_m);
      weight(i) += (ride->share_beyond(low_m) - ride->share_beyond(high_m)) /
                   static_cast<double>(rides.size());
    }
  }
  out.share_covered = weight.sum();
  if (out.share_covered <= 0.0) return out;
  weight /= out.share_covered;
  out.mean_N = weight.dot(difference.difference_N);
  out.standard_uncertainty_N =
      std::sqrt(std::max(0.0, weight.dot(difference.covariance_N2 * weight)));
  return out;
}

}  // namespace fitting
