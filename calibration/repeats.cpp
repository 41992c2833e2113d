#include "calibration/repeats.hpp"

#include <algorithm>
#include <map>
#include <numeric>
#include <utility>

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

}  // namespace calibration
