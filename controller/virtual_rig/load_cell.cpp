#include "controller/virtual_rig/load_cell.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "protocol/wire/codes.hpp"

namespace controller::virtual_rig {

namespace {

// How far from its settled state a cell is that was never loaded, as a part of each stop's way.
constexpr double kUnsettled = 0.05;

}  // namespace

LoadCell::LoadCell(const LoadCellData& data, uint64_t seed) : data_(data), random_(seed) {
  double threshold_N = 0.25 * data_.full_scale_N;
  for (size_t i = 0; i < kStops; ++i) {
    thresholds_N_[i] = threshold_N;
    stops_N_[i] = threshold_N * (2.0 * kUnsettled - 1.0);
    threshold_N *= 0.5;
  }
}

int32_t LoadCell::sample(double force_N, double room_K, double since_last_s) {
  crept_N_ += (data_.creep * force_N - crept_N_) * -std::expm1(-since_last_s / data_.creep_time_s);
  const double part = force_N / data_.full_scale_N;
  // A parabola that is nothing at zero and full scale, and largest half-way.
  const double bend_N = data_.full_scale_N * data_.non_linearity * 4.0 * part * (1.0 - part);
  const double warm_K = room_K - data_.reference_K;
  const double seen_N = (force_N + bend_N + hysteresis_N(force_N) + crept_N_) *
                            (1.0 + data_.gain_drift_per_K * warm_K) +
                        data_.zero_drift_N_per_K * warm_K + data_.noise_N * gaussian();
  const double counts = std::round(data_.offset_counts + data_.counts_per_N * seen_N);
  return static_cast<int32_t>(
      std::clamp(counts, double{protocol::wire::kCountsMin}, double{protocol::wire::kCountsMax}));
}

double LoadCell::hysteresis_N(double force_N) {
  const double moved_N = force_N - last_force_N_;
  last_force_N_ = force_N;
  double behind_N = 0.0;
  double widest_N = 0.0;  // half-way down from full scale every stop has slipped all its way
  for (size_t i = 0; i < kStops; ++i) {
    const double threshold_N = thresholds_N_[i];
    stops_N_[i] = std::clamp(stops_N_[i] + moved_N, -threshold_N, threshold_N);
    const double on_first_loading_N = std::clamp(force_N - threshold_N, -threshold_N, threshold_N);
    behind_N += on_first_loading_N - stops_N_[i];
    widest_N += 2.0 * threshold_N;
  }
  return data_.hysteresis * data_.full_scale_N * behind_N / widest_N;
}

// Box and Muller's, since the library's normal distribution may differ from one to the next and a
// seed must mean the same record everywhere.
double LoadCell::gaussian() {
  constexpr double kUnit = 1.0 / 9007199254740992.0;  // 2^-53
  const double u = (static_cast<double>(random_() >> 11) + 0.5) * kUnit;
  const double v = (static_cast<double>(random_() >> 11) + 0.5) * kUnit;
  return std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * std::numbers::pi * v);
}

}  // namespace controller::virtual_rig
