#include "fitting/report/decimate.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "protocol/error.hpp"

namespace fitting {
namespace {

using Columns = std::vector<const std::vector<double>*>;

bool has_gap(const Columns& columns, std::size_t row) {
  return std::any_of(columns.begin(), columns.end(),
                     [row](const auto* column) { return !std::isfinite((*column)[row]); });
}

// Adds what one stretch [begin, end) keeps.
void keep_extremes(const Columns& columns, std::size_t begin, std::size_t end,
                   std::vector<std::size_t>& kept) {
  std::vector<std::size_t> rows;
  bool gap_kept = false;
  for (std::size_t row = begin; row < end; ++row) {
    if (!has_gap(columns, row)) {
      rows.push_back(row);
    } else if (!gap_kept) {
      kept.push_back(row);
      gap_kept = true;
    }
  }
  if (rows.empty()) return;
  for (const auto* column : columns) {
    const auto less = [column](std::size_t a, std::size_t b) {
      return (*column)[a] < (*column)[b];
    };
    const auto [lowest, highest] = std::minmax_element(rows.begin(), rows.end(), less);
    kept.push_back(*lowest);
    kept.push_back(*highest);
  }
}

}  // namespace

std::vector<std::size_t> kept_rows(const Columns& columns, std::size_t max_points) {
  ENSURE(!columns.empty());
  ENSURE(max_points >= 16 * columns.size());
  const std::size_t rows = columns.front()->size();
  for (const auto* column : columns) ENSURE(column->size() == rows);

  std::vector<std::size_t> kept;
  if (rows <= max_points) {
    kept.resize(rows);
    std::iota(kept.begin(), kept.end(), std::size_t{0});
    return kept;
  }
  const std::size_t per_stretch = 2 * columns.size() + 1;
  const std::size_t stretches = (max_points - 2) / per_stretch;
  kept.push_back(0);
  for (std::size_t i = 0; i < stretches; ++i) {
    keep_extremes(columns, i * rows / stretches, (i + 1) * rows / stretches, kept);
  }
  kept.push_back(rows - 1);
  std::sort(kept.begin(), kept.end());
  kept.erase(std::unique(kept.begin(), kept.end()), kept.end());
  return kept;
}

}  // namespace fitting
