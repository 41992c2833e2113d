#include "calibration/guided/stability.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace calibration {
namespace {

double median_of(const std::vector<WindowSample>& window) {
  std::vector<double> readings;
  for (const WindowSample& sample : window) readings.push_back(sample.reading);
  const auto middle = readings.begin() + static_cast<std::ptrdiff_t>(readings.size() / 2);
  std::nth_element(readings.begin(), middle, readings.end());
  return *middle;
}

// Of a slow change the differences of neighbours see next to nothing.
double neighbour_noise(const std::vector<WindowSample>& window) {
  double sum = 0.0;
  for (size_t i = 1; i < window.size(); ++i) {
    const double difference = window[i].reading - window[i - 1].reading;
    sum += difference * difference;
  }
  return std::sqrt(sum / (2.0 * static_cast<double>(window.size() - 1)));
}

struct Line {
  double mean = 0.0;
  double slope_per_s = 0.0;
  double standard_deviation = 0.0;
};

Line line_through(const std::vector<WindowSample>& window) {
  const auto count = static_cast<double>(window.size());
  Line line;
  double mean_time_s = 0.0;
  for (const WindowSample& sample : window) {
    line.mean += (sample.reading - window.front().reading) / count;
    mean_time_s += sample.time_s / count;
  }
  // Counted from the first, equal readings have exactly their own mean.
  line.mean += window.front().reading;
  double times = 0.0, both = 0.0, readings = 0.0;
  for (const WindowSample& sample : window) {
    const double time_s = sample.time_s - mean_time_s;
    const double reading = sample.reading - line.mean;
    times += time_s * time_s;
    both += time_s * reading;
    readings += reading * reading;
  }
  line.slope_per_s = times > 0.0 ? both / times : 0.0;
  line.standard_deviation = std::sqrt(readings / (count - 1.0));
  return line;
}

// Words for a number that needs no more than three digits.
std::string about(double value) {
  return fmt::format("{:.3g}", value);
}

}  // namespace

Stability judge_stability(const std::vector<WindowSample>& window, const StabilityRules& rules) {
  Stability out;
  for (const WindowSample& sample : window) {
    if (sample.reading > rules.lowest && sample.reading < rules.highest) continue;
    out.verdict = Steadiness::saturated;
    out.unsteadiness = 1e9;
    out.reason = fmt::format(
        "The reading is saturated: {:.0f} {} is the end of the converter. "
        "Load less, or check the cell's cable.",
        sample.reading, rules.unit);
    return out;
  }
  if (window.size() < kWindowSamplesMin) {
    out.reason = fmt::format("Only {} samples came where {} are needed; wait a little longer.",
                             window.size(), kWindowSamplesMin);
    out.unsteadiness = 1e9;
    return out;
  }
  const Line line = line_through(window);
  out.mean = line.mean;
  out.standard_deviation = line.standard_deviation;
  out.noise = std::max(rules.noise.value_or(neighbour_noise(window)), rules.step);
  out.standard_error = out.noise / std::sqrt(static_cast<double>(window.size()));
  const double median = median_of(window);
  double furthest = 0.0;
  for (const WindowSample& sample : window) {
    furthest = std::max(furthest, std::abs(sample.reading - median));
  }
  const double change = std::abs(line.slope_per_s) * (window.back().time_s - window.front().time_s);
  const double drift = change / (kDriftLimit * out.noise);
  const double scatter = line.standard_deviation / (kScatterLimit * out.noise);
  const double spike = furthest / (kSpikeLimit * out.noise);
  out.unsteadiness = std::max({drift, scatter, spike});
  if (out.unsteadiness <= 1.0) {
    out.verdict = Steadiness::stable;
  } else if (drift > 1.0) {
    // First, since a drift also widens scatter and extremes.
    out.verdict = Steadiness::drifting;
    out.reason = fmt::format("The reading is drifting by {} {} per second; let it settle.",
                             about(line.slope_per_s), rules.unit);
  } else if (scatter > 1.0) {
    out.verdict = Steadiness::scattered;
    out.reason = fmt::format(
        "The reading scatters by {} {} where {} is usual; is the load "
        "swinging, or the bench shaking?",
        about(line.standard_deviation), rules.unit, about(out.noise));
  } else {
    out.verdict = Steadiness::spike;
    out.reason = fmt::format(
        "One sample jumped {} {} away where {} is usual; was the bench "
        "knocked?",
        about(furthest), rules.unit, about(out.noise));
  }
  return out;
}

}  // namespace calibration
