#include "fitting/curve/strokes.hpp"

#include "fitting/curve/dwells.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace fitting {
namespace {

constexpr double kHysteresisShare = 0.01;    // of the swept range
constexpr double kHysteresisMin_m = 0.0003;  // below what presliding needs
constexpr double kShortOfTurnShare = 0.02;   // of the swept range: a stroke this short is partial
constexpr double kSameSpeed = 0.2;           // relative
constexpr std::size_t kBendsAsked = 3000;    // a median does not ask for more
constexpr double kStubShare = 0.5;           // a first stroke shorter than this opens no cycle

double median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

// Standard deviation of the jitter about a locally straight path, from second differences.
double path_noise_m(const std::vector<double>& travel_m) {
  if (travel_m.size() < 3) return 0.0;
  std::vector<double> bends;
  bends.reserve(kBendsAsked + 1);
  const std::size_t stride = 1 + travel_m.size() / kBendsAsked;
  for (std::size_t i = 2; i < travel_m.size(); i += stride) {
    bends.push_back(std::abs(travel_m[i] - 2.0 * travel_m[i - 1] + travel_m[i - 2]));
  }
  // The median of |normal| is 0.6745 sigma, and a second difference has 6 times the variance.
  return median(std::move(bends)) / (0.6745 * std::sqrt(6.0));
}

struct Extent {
  double low_m = 0.0;
  double high_m = 0.0;
  double range_m() const { return high_m - low_m; }
};

Extent extent_of(const std::vector<double>& travel_m) {
  const auto [low, high] = std::minmax_element(travel_m.begin(), travel_m.end());
  return {*low, *high};
}

// Walks the path and collects the rows of the turns. The row at a turn is the furthest one.
struct Turns {
  std::vector<std::size_t> furthest_row;  // of each stroke, the last included
  int first_direction = 0;                // 0: the path never moves by the threshold
};

Turns find_turns(const std::vector<double>& x, double hysteresis_m) {
  Turns turns;
  std::size_t low = 0;
  std::size_t high = 0;
  int direction = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    if (x[i] < x[low]) low = i;
    if (x[i] > x[high]) high = i;
    if (direction == 0) {
      if (x[i] - x[low] >= hysteresis_m) direction = +1;
      if (x[high] - x[i] >= hysteresis_m) direction = -1;
      turns.first_direction = direction;
    } else if (direction > 0 && x[high] - x[i] >= hysteresis_m) {
      turns.furthest_row.push_back(high);
      direction = -1;
      low = i;
    } else if (direction < 0 && x[i] - x[low] >= hysteresis_m) {
      turns.furthest_row.push_back(low);
      direction = +1;
      high = i;
    }
  }
  if (direction != 0) turns.furthest_row.push_back(direction > 0 ? high : low);
  return turns;
}

// Fills the rows of one stroke that starts at first_row and whose furthest row is known.
Stroke make_stroke(const std::vector<double>& x, std::size_t first_row, std::size_t furthest_row,
                   int direction, double near_turn_m, std::size_t search_end) {
  Stroke stroke;
  stroke.first_row = first_row;
  stroke.direction = direction;
  stroke.to_m = x[furthest_row];
  const auto at_turn = [&](std::size_t i) {
    return direction * (stroke.to_m - x[i]) <= near_turn_m;
  };
  stroke.moving_end = furthest_row + 1;
  for (std::size_t i = furthest_row + 1; i-- > first_row && at_turn(i);) stroke.moving_end = i + 1;
  stroke.last_row = furthest_row + 1;
  for (std::size_t i = furthest_row + 1; i < search_end; ++i) {
    if (at_turn(i)) stroke.last_row = i + 1;
  }
  return stroke;
}

void number_cycles(std::vector<Stroke>& strokes, double range_m) {
  const bool stub = strokes.size() > 2 && strokes[0].length_m() < kStubShare * range_m;
  const int lead = stub ? 1 : 0;
  for (std::size_t i = 0; i < strokes.size(); ++i) {
    strokes[i].cycle = std::max(0, static_cast<int>(i) - lead) / 2;
  }
}

void mark_partial(std::vector<Stroke>& strokes, double range_m) {
  if (strokes.size() < 2) return;
  Stroke& last = strokes.back();
  std::vector<double> ends;
  for (std::size_t i = 0; i + 1 < strokes.size(); ++i) {
    if (strokes[i].direction == last.direction) ends.push_back(strokes[i].to_m);
  }
  const double expected_m = ends.empty() ? strokes[strokes.size() - 2].from_m : median(ends);
  last.partial = last.direction * (expected_m - last.to_m) > kShortOfTurnShare * range_m;
}

// A curve's strokes of one direction are of one speed: of a speed series the first one, else the
// median. The ways in and out may differ.
void mark_other_speeds(const protocol::SweepRecord& record, std::vector<Stroke>& strokes) {
  if (!record.has_time()) return;
  for (int direction : {+1, -1}) {
    std::vector<Stroke*> own;
    std::vector<double> speeds_m_s;
    for (Stroke& stroke : strokes) {
      if (stroke.direction != direction || stroke.conditioning || stroke.partial) continue;
      own.push_back(&stroke);
      speeds_m_s.push_back(moving_speed_m_s(record, stroke));
    }
    if (own.empty()) continue;
    const bool series = record.metadata.program.size() > 1;
    const double usual_m_s = series ? speeds_m_s.front() : median(speeds_m_s);
    for (std::size_t i = 0; i < own.size(); ++i) {
      own[i]->other_speed = std::abs(speeds_m_s[i] - usual_m_s) > kSameSpeed * usual_m_s;
    }
  }
}

int full_cycles(const std::vector<Stroke>& strokes) {
  if (strokes.empty()) return 0;
  std::vector<int> complete(static_cast<std::size_t>(strokes.back().cycle) + 1, 0);
  for (const Stroke& stroke : strokes) {
    if (!stroke.partial) ++complete[static_cast<std::size_t>(stroke.cycle)];
  }
  return static_cast<int>(
      std::count_if(complete.begin(), complete.end(), [](int n) { return n >= 2; }));
}

}  // namespace

std::vector<Stroke> split_path(const std::vector<double>& travel_m, const StrokeOptions& options) {
  std::vector<Stroke> strokes;
  if (travel_m.size() < 2) return strokes;
  const Extent extent = extent_of(travel_m);
  const double hysteresis_m = options.hysteresis_m.value_or(
      std::max(kHysteresisMin_m, kHysteresisShare * extent.range_m()));
  const Turns turns = find_turns(travel_m, hysteresis_m);
  // Rows this near to the furthest one count as being at the turn: jitter must not cut a dwell. The
  // furthest of many lies some three deviations out, and the nearest as far the other way.
  const double near_turn_m = std::min(6.0 * path_noise_m(travel_m), hysteresis_m / 10.0);

  int direction = turns.first_direction;
  std::size_t first_row = 0;
  double from_m = travel_m.front();
  for (std::size_t k = 0; k < turns.furthest_row.size(); ++k) {
    const bool is_last = k + 1 == turns.furthest_row.size();
    const std::size_t search_end = is_last ? travel_m.size() : turns.furthest_row[k + 1];
    Stroke stroke =
        make_stroke(travel_m, first_row, turns.furthest_row[k], direction, near_turn_m, search_end);
    if (is_last) stroke.last_row = travel_m.size();
    stroke.from_m = from_m;
    strokes.push_back(stroke);
    first_row = stroke.last_row;
    from_m = stroke.to_m;
    direction = -direction;
  }
  if (strokes.empty()) return strokes;
  // What precedes the first move may lie on the far side of the first row.
  for (std::size_t i = 0; i < strokes[0].last_row; ++i) {
    if (strokes[0].direction * (strokes[0].from_m - travel_m[i]) > 0.0) {
      strokes[0].from_m = travel_m[i];
    }
  }
  number_cycles(strokes, extent.range_m());
  mark_partial(strokes, extent.range_m());
  return strokes;
}

protocol::Result<std::vector<Stroke>> split_strokes(const protocol::SweepRecord& record,
                                                    const StrokeOptions& options) {
  std::vector<Stroke> strokes = split_path(record.travel_m, options);
  if (strokes.empty()) {
    return protocol::Error{
        protocol::Errc::record_unusable,
        fmt::format("the record '{}' holds {} rows whose travel never moves by more than the "
                    "threshold of a stroke; sweep or import a record that goes through the travel",
                    record.metadata.record_id, record.size())};
  }
  const protocol::Metadata& metadata = record.metadata;
  int conditioning = metadata.conditioning_cycles;
  const bool foreign = metadata.origin == "import";
  if (foreign && conditioning == 0 && full_cycles(strokes) >= 2 &&
      metadata.setting.start == protocol::GasStart::equilibrium) {
    conditioning = 1;
  }
  for (Stroke& stroke : strokes) stroke.conditioning = stroke.cycle < conditioning;
  mark_other_speeds(record, strokes);
  if (strokes.size() == 1 && metadata.state != protocol::RecordState::complete) {
    strokes[0].partial = true;
  }
  return strokes;
}

}  // namespace fitting
