#include "fitting/curve/spikes.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace fitting {
namespace {

constexpr std::size_t kWindow = 2 * kSpikeRows - 1;  // a majority of it is sound
constexpr double kFarOff = 8.0;                      // noise's standard deviations
constexpr double kFarOffShare = 0.002;  // of the usual largest force: digits without noise

double median_of(const double* first) {
  std::array<double, kWindow> values{};
  std::copy_n(first, kWindow, values.begin());
  std::nth_element(values.begin(), values.begin() + kWindow / 2, values.end());
  return values[kWindow / 2];
}

// How far the curve moves from the middle of a window to the row beside it: its usual step there.
double reach_N(const double* before, const double* after) {
  std::array<double, 2 * (kWindow - 1)> steps{};
  for (std::size_t k = 0; k + 1 < kWindow; ++k) {
    steps[2 * k] = std::abs(before[k + 1] - before[k]);
    steps[2 * k + 1] = std::abs(after[k + 1] - after[k]);
  }
  std::nth_element(steps.begin(), steps.begin() + steps.size() / 2, steps.end());
  return kSpikeRows * steps[steps.size() / 2];
}

// From second differences, so that the curve's slope has no part in it; their median, so that the
// spikes have none either.
double noise_N(const std::vector<double>& force_N) {
  std::vector<double> bends;
  bends.reserve(force_N.size());
  for (std::size_t i = 2; i < force_N.size(); ++i) {
    bends.push_back(std::abs(force_N[i] - 2.0 * force_N[i - 1] + force_N[i - 2]));
  }
  const auto middle = bends.begin() + static_cast<std::ptrdiff_t>(bends.size() / 2);
  std::nth_element(bends.begin(), middle, bends.end());
  return *middle / (0.6745 * std::sqrt(6.0));
}

// Of the force, were it not for the few largest: a spike must not raise the bar for itself.
double usual_largest_N(std::vector<double> force_N) {
  for (double& value_N : force_N) value_N = std::abs(value_N);
  const auto most = force_N.begin() + static_cast<std::ptrdiff_t>(force_N.size() * 49 / 50);
  std::nth_element(force_N.begin(), most, force_N.end());
  return *most;
}

}  // namespace

std::vector<std::size_t> find_spikes(const std::vector<double>& force_N) {
  std::vector<std::size_t> out;
  if (force_N.size() < 4 * kWindow) return out;
  if (!std::all_of(force_N.begin(), force_N.end(), [](double f) { return std::isfinite(f); })) {
    return out;
  }
  const double far_N =
      std::max(kFarOff * noise_N(force_N), kFarOffShare * usual_largest_N(force_N));
  for (std::size_t i = kWindow; i + kWindow < force_N.size(); ++i) {
    const double before_N = median_of(&force_N[i - kWindow]);
    const double after_N = median_of(&force_N[i + 1]);
    const double off_before_N = force_N[i] - before_N;
    const double off_after_N = force_N[i] - after_N;
    if (off_before_N * off_after_N <= 0.0) continue;
    const double off_N = std::min(std::abs(off_before_N), std::abs(off_after_N));
    const double moved_N =
        std::abs(before_N - after_N) + reach_N(&force_N[i - kWindow], &force_N[i + 1]);
    if (off_N > far_N + moved_N) out.push_back(i);
  }
  return out;
}

protocol::SweepRecord without_rows(const protocol::SweepRecord& record,
                                   const std::vector<std::size_t>& rows) {
  protocol::SweepRecord out = record;
  const auto thin = [&](auto& column) {
    if (column.empty()) return;
    std::size_t next = 0;
    std::size_t to = 0;
    for (std::size_t row = 0; row < column.size(); ++row) {
      if (next < rows.size() && rows[next] == row) {
        ++next;
        continue;
      }
      column[to++] = column[row];
    }
    column.resize(to);
  };
  thin(out.time_s);
  thin(out.stroke);
  thin(out.travel_m);
  thin(out.force_N);
  thin(out.raw_steps);
  thin(out.raw_counts);
  return out;
}

}  // namespace fitting
