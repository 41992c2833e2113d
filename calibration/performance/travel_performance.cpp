#include "calibration/performance/travel_performance.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

#include "calibration/performance/end_points.hpp"
#include "calibration/repeats.hpp"
#include "calibration/statistics.hpp"

namespace calibration {
namespace {

// One reading as what it is off the curve, at its place.
struct Off {
  int place = 0;
  double off_m = 0.0;  // reference less curve
};

// Readings taken one after the other without turning.
struct Pass {
  bool is_down = false;
  int series = 0;
  std::vector<Off> readings;
};

std::vector<Pass> passes_of(const Calibration& calibration, const Repeats& repeats,
                            const std::vector<double>& off_m) {
  std::vector<Pass> passes;
  for (size_t i = 0; i < calibration.readings.size(); ++i) {
    const Reading& reading = calibration.readings[i];
    const bool is_down = reading.direction == Direction::descending;
    // Two series in one direction: how the carriage came back in between was not read.
    if (passes.empty() || passes.back().is_down != is_down ||
        passes.back().series != reading.series) {
      passes.push_back({is_down, reading.series, {}});
    }
    passes.back().readings.push_back({repeats.loads[i], off_m[i]});
  }
  return passes;
}

// One place alone says nothing about how well it is known; then the scatter of a difference does.
protocol::Backlash lost_motion_of(const std::vector<double>& distances, double scatter_m) {
  const double own_m = distances.size() < 2 ? std::sqrt(2.0) * scatter_m
                                            : standard_deviation_of(distances) /
                                                  std::sqrt(static_cast<double>(distances.size()));
  return {mean_of(distances), own_m};
}

// Mean distance between the passes before and after each turn of one kind. The place of the turn
// itself was read once, or again without having moved, and says nothing.
std::optional<double> backlash_after_turn_m(const std::vector<Pass>& passes, bool turns_down) {
  std::vector<double> distances;
  for (size_t i = 1; i < passes.size(); ++i) {
    const Pass& before = passes[i - 1];
    const Pass& after = passes[i];
    if (before.is_down == after.is_down || after.is_down != turns_down) continue;
    const int turning_place = before.readings.back().place;
    for (const Off& off : after.readings) {
      if (off.place == turning_place) continue;
      for (const Off& earlier : before.readings) {
        if (earlier.place == off.place) distances.push_back(off.off_m - earlier.off_m);
      }
    }
  }
  if (distances.empty()) return std::nullopt;
  return std::abs(mean_of(distances));
}

std::optional<double> linearity_m(const Calibration& calibration, const Repeats& repeats,
                                  const std::vector<double>& off_m, double slope_m) {
  // The side that was read more, ascending where both were read.
  const auto side_of = [&](Direction direction) {
    return mean_by_load(calibration.readings, repeats, off_m, direction);
  };
  std::map<int, double> side = side_of(Direction::ascending);
  if (side.size() < 3) side = side_of(Direction::descending);
  if (side.size() < 2) return std::nullopt;
  std::map<int, std::vector<double>> references;
  for (size_t i = 0; i < calibration.readings.size(); ++i) {
    references[repeats.loads[i]].push_back(calibration.readings[i].reference);
  }
  // Each place through its mean reference: the reading that the curve has there, less what the
  // place is off by.
  std::vector<double> places;
  std::vector<double> readings;
  for (const auto& [place, mean_off_m] : side) {
    const double place_m = mean_of(references[place]);
    const protocol::Result<double> on_curve = calibration.reading_at(place_m);
    if (!on_curve) return std::nullopt;
    places.push_back(place_m);
    readings.push_back(*on_curve - mean_off_m / slope_m);
  }
  return std::abs(largest_by_magnitude(end_point_deviations(readings, places)));
}

double repeatability_m(const Repeats& repeats, const std::vector<double>& off_m, double otherwise) {
  if (!repeats.any()) return otherwise;
  std::map<int, std::vector<double>> cells;
  for (size_t i = 0; i < off_m.size(); ++i) cells[repeats.cells[i]].push_back(off_m[i]);
  double squares = 0.0;
  for (const auto& [cell, values] : cells) {
    const double mean = mean_of(values);
    for (const double value : values) squares += (value - mean) * (value - mean);
  }
  return std::sqrt(squares / static_cast<double>(off_m.size() - cells.size()));
}

}  // namespace

TravelPerformance travel_performance(const Calibration& calibration) {
  ENSURE(calibration.kind == Kind::travel && !calibration.readings.empty());
  TravelPerformance performance;
  performance.scale_m_per_step = calibration.mean_slope();
  const Repeats repeats = find_repeats(calibration.readings);
  std::vector<double> off_m;
  for (const Reading& reading : calibration.readings) {
    off_m.push_back(reading.reference - calibration.value(reading.reading));
  }
  const std::vector<Pass> passes = passes_of(calibration, repeats, off_m);
  performance.backlash_up_m = backlash_after_turn_m(passes, false);
  performance.backlash_down_m = backlash_after_turn_m(passes, true);
  performance.linearity_m = linearity_m(calibration, repeats, off_m, performance.scale_m_per_step);
  performance.repeatability_m =
      repeatability_m(repeats, off_m, calibration.quality.residual_standard_deviation);
  const std::vector<double> distances = down_less_up(calibration.readings, repeats, off_m);
  if (!distances.empty()) {
    performance.backlash_m = std::abs(largest_by_magnitude(distances));
    performance.lost_motion = lost_motion_of(distances, performance.repeatability_m);
  }
  return performance;
}

}  // namespace calibration
