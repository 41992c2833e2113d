#include "calibration/repeats.hpp"

#include <algorithm>
#include <numeric>
#include <utility>

#include "calibration/statistics.hpp"

namespace calibration {
namespace {

void group_loads(std::span<const Reading> readings, Repeats& repeats) {
  std::vector<size_t> order(readings.size());
  std::iota(order.begin(), order.end(), size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](size_t a, size_t b) {
    return readings[a].reference < readings[b].reference;
  });
  const double range = readings[order.back()].reference - readings[order.front()].reference;
  repeats.loads.assign(readings.size(), 0);
  double first_of_group = readings[order.front()].reference;
  repeats.load_count = 1;
  for (const size_t i : order) {
    // From the first of the group, so that closely spaced loads do not chain into one.
    if (readings[i].reference - first_of_group > kSameLoadRelative * range) {
      first_of_group = readings[i].reference;
      ++repeats.load_count;
    }
    repeats.loads[i] = repeats.load_count - 1;
  }
}

}  // namespace

Repeats find_repeats(std::span<const Reading> readings) {
  Repeats repeats;
  if (readings.empty()) return repeats;
  group_loads(readings, repeats);
  std::map<std::pair<int, bool>, int> known;
  for (size_t i = 0; i < readings.size(); ++i) {
    const bool is_down = readings[i].direction == Direction::descending;
    const auto next = static_cast<int>(known.size());
    repeats.cells.push_back(known.try_emplace({repeats.loads[i], is_down}, next).first->second);
  }
  repeats.cell_count = static_cast<int>(known.size());
  if (!repeats.any()) {
    repeats.cells = repeats.loads;
    repeats.cell_count = repeats.load_count;
  }
  return repeats;
}

std::map<int, double> mean_by_load(std::span<const Reading> readings, const Repeats& repeats,
                                   std::span<const double> off, Direction direction) {
  ENSURE(off.size() == readings.size() && repeats.loads.size() == readings.size());
  std::map<int, std::vector<double>> values;
  for (size_t i = 0; i < readings.size(); ++i) {
    const bool is_down = readings[i].direction == Direction::descending;
    if (is_down == (direction == Direction::descending)) values[repeats.loads[i]].push_back(off[i]);
  }
  std::map<int, double> means;
  for (const auto& [load, all] : values) means[load] = mean_of(all);
  return means;
}

std::vector<double> down_less_up(std::span<const Reading> readings, const Repeats& repeats,
                                 std::span<const double> off) {
  const auto up = mean_by_load(readings, repeats, off, Direction::ascending);
  const auto down = mean_by_load(readings, repeats, off, Direction::descending);
  std::vector<double> distances;
  for (const auto& [load, mean] : down) {
    const auto same = up.find(load);
    if (same != up.end()) distances.push_back(mean - same->second);
  }
  return distances;
}

}  // namespace calibration
