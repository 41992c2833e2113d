#include "fitting/model/path.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fitting {
namespace {

constexpr double kFirstCell_m = 5e-5;
constexpr double kGrowth = 0.1;  // of the distance from the reversal
constexpr double kLargestCell_m = 1e-3;
constexpr double kPortCell_m = 2.5e-4;
constexpr double kLongestCell_s = 0.5;
constexpr double kFirstDwellCell_s = 0.1;
constexpr double kDwellGrowth = 0.2;

// Running sums of one cell about its first row, so that nothing large cancels.
class Cell {
 public:
  void add(double time_s, double travel_m, double force_N) {
    if (rows_ == 0) {
      first_s_ = time_s;
      first_m_ = travel_m;
      first_N_ = force_N;
    }
    const double x = travel_m - first_m_;
    const double y = force_N - first_N_;
    ++rows_;
    sum_s_ += time_s - first_s_;
    sum_x_ += x;
    sum_y_ += y;
    sum_xx_ += x * x;
    sum_xy_ += x * y;
    sum_yy_ += y * y;
  }

  int rows() const { return rows_; }
  double first_s() const { return first_s_; }

  PathNode node() const {
    const double n = rows_;
    PathNode node;
    node.rows = rows_;
    node.time_s = first_s_ + sum_s_ / n;
    node.travel_m = first_m_ + sum_x_ / n;
    node.force_N = first_N_ + sum_y_ / n;
    const double xx = sum_xx_ - sum_x_ * sum_x_ / n;
    const double xy = sum_xy_ - sum_x_ * sum_y_ / n;
    const double yy = sum_yy_ - sum_y_ * sum_y_ / n;
    node.scatter_N2 = rows_ < 3 ? 0.0 : std::max(0.0, xx > 0.0 ? yy - xy * xy / xx : yy);
    return node;
  }

 private:
  int rows_ = 0;
  double first_s_ = 0.0, first_m_ = 0.0, first_N_ = 0.0;
  double sum_s_ = 0.0, sum_x_ = 0.0, sum_y_ = 0.0, sum_xx_ = 0.0, sum_xy_ = 0.0, sum_yy_ = 0.0;
};

class PathBuilder {
 public:
  PathBuilder(const protocol::SweepRecord& record, double port_zone_m)
      : record_(record), port_zone_m_(port_zone_m) {}

  void add_stroke(const Stroke& stroke, int number) {
    stroke_ = number;
    direction_ = stroke.direction;
    // The path never steps back inside a stroke: jitter is not a reversal.
    furthest_m_ = stroke.from_m;
    add_moving(stroke);
    add_turn(stroke);
    add_dwell(stroke);
  }

  std::vector<PathNode> take() { return std::move(nodes_); }

 private:
  double time_s(std::size_t row) const { return record_.has_time() ? record_.time_s[row] : 0.0; }

  double width_m(double from_turn_m, double travel_m) const {
    const double graded = std::min(kFirstCell_m + kGrowth * from_turn_m, kLargestCell_m);
    return travel_m < port_zone_m_ ? std::min(graded, kPortCell_m) : graded;
  }

  void add_moving(const Stroke& stroke) {
    Cell cell;
    double cell_start_m = 0.0;
    for (std::size_t row = stroke.first_row; row < stroke.moving_end; ++row) {
      const double from_turn_m = direction_ * (record_.travel_m[row] - stroke.from_m);
      const bool full = cell.rows() > 0 && (from_turn_m - cell_start_m >
                                                width_m(cell_start_m, record_.travel_m[row]) ||
                                            time_s(row) - cell.first_s() > kLongestCell_s);
      if (full) {
        put(cell.node());
        cell = Cell();
      }
      if (cell.rows() == 0) cell_start_m = std::max(0.0, from_turn_m);
      cell.add(time_s(row), record_.travel_m[row], record_.force_N[row]);
    }
    if (cell.rows() > 0) put(cell.node());
  }

  void add_turn(const Stroke& stroke) {
    if (stroke.moving_end == stroke.first_row) return;
    PathNode node;
    node.time_s =
        std::max(nodes_.empty() ? 0.0 : nodes_.back().time_s, time_s(stroke.moving_end - 1));
    node.travel_m = stroke.to_m;
    put(node);
  }

  void add_dwell(const Stroke& stroke) {
    if (!record_.has_time()) return;
    Cell cell;
    double begun_s = 0.0;
    for (std::size_t row = stroke.moving_end; row < stroke.last_row; ++row) {
      if (row == stroke.moving_end) begun_s = time_s(row);
      const double since_s = cell.rows() > 0 ? cell.first_s() - begun_s : 0.0;
      if (cell.rows() > 0 &&
          time_s(row) - cell.first_s() > kFirstDwellCell_s + kDwellGrowth * since_s) {
        put(cell.node());
        cell = Cell();
      }
      // At rest the travel is the turn's; what the record adds is jitter.
      cell.add(time_s(row), stroke.to_m, record_.force_N[row]);
    }
    if (cell.rows() > 0) put(cell.node());
  }

  void put(PathNode node) {
    furthest_m_ = direction_ > 0 ? std::max(furthest_m_, node.travel_m)
                                 : std::min(furthest_m_, node.travel_m);
    node.travel_m = furthest_m_;
    node.direction = direction_;
    node.stroke = stroke_;
    nodes_.push_back(node);
  }

  const protocol::SweepRecord& record_;
  double port_zone_m_;
  std::vector<PathNode> nodes_;
  int stroke_ = 0;
  int direction_ = +1;
  double furthest_m_ = 0.0;
};

// A single value that is no number would spread through every sum.
protocol::Result<void> check_finite(const protocol::SweepRecord& record) {
  for (std::size_t row = 0; row < record.size(); ++row) {
    const bool finite = std::isfinite(record.travel_m[row]) && std::isfinite(record.force_N[row]) &&
                        (!record.has_time() || std::isfinite(record.time_s[row]));
    if (finite) continue;
    return protocol::Error{protocol::Errc::record_unusable,
                           fmt::format("row {} of the record '{}' holds a value that is no number; "
                                       "import or sweep it again.",
                                       row + 1, record.metadata.record_id)};
  }
  return {};
}

void mark_uncounted(const protocol::SweepRecord& record, Path& path) {
  const bool push = record.metadata.setting.coupling == protocol::Coupling::push;
  for (PathNode& node : path.nodes) {
    if (node.rows == 0) continue;
    const bool start = node.stroke == 0 && std::abs(node.travel_m - path.start_m) < kUnknownStart_m;
    if (start || (push && node.force_N < kContact_N)) node.counts = false;
  }
}

void measure(Path& path) {
  double scatter_N2 = 0.0;
  double freedom = 0.0;
  double moving_m = 0.0;
  double moving_s = 0.0;
  double last_m = path.start_m;
  double last_s = path.start_s;
  for (const PathNode& node : path.nodes) {
    path.scatter_N2 += node.scatter_N2;
    if (node.rows >= 3) {
      scatter_N2 += node.scatter_N2;
      freedom += node.rows - 2;
    }
    const double moved_m = std::abs(node.travel_m - last_m);
    if (moved_m > 1e-6) {
      moving_m += moved_m;
      moving_s += node.time_s - last_s;
    }
    last_m = node.travel_m;
    last_s = node.time_s;
    path.largest_travel_m = std::max(path.largest_travel_m, node.travel_m);
    if (node.rows > 0) path.largest_force_N = std::max(path.largest_force_N, node.force_N);
  }
  // Data without noise still has the rounding of its digits.
  path.noise_N = std::max(freedom > 0.0 ? std::sqrt(scatter_N2 / freedom) : 1.0, 0.01);
  path.speed_m_s = moving_s > 0.0 ? moving_m / moving_s : 0.0;
}

}  // namespace

protocol::Result<Path> make_path(const protocol::SweepRecord& record, double port_zone_m) {
  if (const auto finite = check_finite(record); !finite) return finite.error();
  const protocol::Result<std::vector<Stroke>> strokes = split_strokes(record);
  if (!strokes) return strokes.error();
  Path path;
  path.has_time = record.has_time();
  path.start_m = record.travel_m.front();
  path.start_s = path.has_time ? record.time_s.front() : 0.0;
  path.samples = record.size();
  path.strokes = static_cast<int>(strokes->size());
  PathBuilder builder(record, port_zone_m);
  int number = 0;
  for (const Stroke& stroke : *strokes) builder.add_stroke(stroke, number++);
  path.nodes = builder.take();
  mark_uncounted(record, path);
  measure(path);
  return path;
}

}  // namespace fitting
