#include "fitting/solve/fit_input.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "fitting/curve/spikes.hpp"
#include "fitting/solve/parallel.hpp"

namespace fitting {
namespace {

// Strokes shorter than this say little of a speed.
constexpr double kShortStroke_m = 5e-3;
// Beyond the port's assumed place cells stay small this far.
constexpr double kPortZone_m = 8e-3;
constexpr double kCoarseRow_m = 2e-4;

struct Motion {
  double way_m = 0.0;
  double time_s = 0.0;
  double net_m = 0.0;  // above zero: compression
};

struct SpeedRange {
  double slowest_m_s = 0.0;
  double fastest_m_s = 0.0;

  void add(double speed_m_s) {
    slowest_m_s = slowest_m_s > 0.0 ? std::min(slowest_m_s, speed_m_s) : speed_m_s;
    fastest_m_s = std::max(fastest_m_s, speed_m_s);
  }
  bool empty() const { return fastest_m_s <= 0.0; }
  double ratio() const { return fastest_m_s / slowest_m_s; }
};

struct SpeedRanges {
  SpeedRange compression;
  SpeedRange rebound;

  // A direction swept at one speed alone leaves its drag at that speed and friction the same thing,
  // however many speeds there are the other way.
  const SpeedRange& narrower() const {
    if (rebound.empty()) return compression;
    if (compression.empty()) return rebound;
    return compression.ratio() < rebound.ratio() ? compression : rebound;
  }
};

void note_speeds(const Path& path, SpeedRanges& ranges) {
  std::vector<Motion> strokes(static_cast<std::size_t>(path.strokes));
  double last_m = path.start_m;
  double last_s = path.start_s;
  for (const PathNode& node : path.nodes) {
    const double moved_m = node.travel_m - last_m;
    if (std::abs(moved_m) > 1e-6) {
      Motion& motion = strokes[static_cast<std::size_t>(node.stroke)];
      motion.way_m += std::abs(moved_m);
      motion.net_m += moved_m;
      motion.time_s += node.time_s - last_s;
    }
    last_m = node.travel_m;
    last_s = node.time_s;
  }
  for (const Motion& motion : strokes) {
    if (motion.way_m < kShortStroke_m || motion.time_s <= 0.0) continue;
    SpeedRange& range = motion.net_m > 0.0 ? ranges.compression : ranges.rebound;
    range.add(motion.way_m / motion.time_s);
  }
}

// A record without its spikes, and the path it takes.
struct Prepared {
  protocol::SweepRecord record;
  Path path;
  std::size_t spikes = 0;
  std::optional<protocol::Error> error;
};

// The furthest row of a coarse record's turn stands alone, and so does its force.
bool is_turn(const std::vector<double>& travel_m, std::size_t row) {
  if (row == 0 || row + 1 >= travel_m.size()) return false;
  const double before_m = travel_m[row] - travel_m[row - 1];
  const double after_m = travel_m[row] - travel_m[row + 1];
  return before_m * after_m > 0.0 && std::min(std::abs(before_m), std::abs(after_m)) > kCoarseRow_m;
}

Prepared prepare(const protocol::SweepRecord& record, double port_zone_m) {
  std::vector<std::size_t> spikes = find_spikes(record.force_N);
  std::erase_if(spikes, [&](std::size_t row) { return is_turn(record.travel_m, row); });
  Prepared out;
  out.spikes = spikes.size();
  out.record = without_rows(record, spikes);
  protocol::Result<Path> path = make_path(out.record, port_zone_m);
  if (path) {
    out.path = *std::move(path);
  } else {
    out.error = path.error();
  }
  return out;
}

void add_record(Prepared prepared, std::size_t of, FitInput& input) {
  const Path& path = prepared.path;
  const protocol::Metadata& about = prepared.record.metadata;
  input.has_time = input.has_time && path.has_time;
  input.mean_pressure_gauge_Pa += about.setting.pressure_gauge_Pa / double(of);
  input.mean_speed_m_s += path.speed_m_s / double(of);
  input.largest_travel_m = std::max(input.largest_travel_m, path.largest_travel_m);
  input.largest_force_N = std::max(input.largest_force_N, path.largest_force_N);
  input.any_spacers = input.any_spacers || about.setting.spacers > 0;
  input.single_stroke = input.single_stroke || about.single_stroke;
  input.paths.push_back(std::move(prepared.path));
  input.records.push_back(std::move(prepared.record));
}

}  // namespace

protocol::Result<FitInput> make_fit_input(const std::vector<protocol::SweepRecord>& records,
                                          int threads) {
  if (records.empty()) {
    return protocol::Error{protocol::Errc::record_unusable, "a fit needs at least one record."};
  }
  FitInput input;
  input.fork = records.front().metadata.fork;
  for (const protocol::SweepRecord& record : records) {
    const std::string& name = record.metadata.fork.name;
    if (name == input.fork.name) continue;
    return protocol::Error{
        protocol::Errc::input_out_of_range,
        fmt::format("the records are of different forks ('{}' and '{}'); fit each fork by itself.",
                    input.fork.name, name)};
  }
  const double zone_m = port_zone_m(input.fork);
  std::vector<Prepared> prepared(records.size());
  for_each_parallel(static_cast<int>(records.size()), threads, [&](int i) {
    const auto at = static_cast<std::size_t>(i);
    prepared[at] = prepare(records[at], zone_m);
  });
  SpeedRanges speeds;
  for (Prepared& each : prepared) {
    if (each.error) return *each.error;
    input.spikes += each.spikes;
    if (each.path.has_time) note_speeds(each.path, speeds);
    add_record(std::move(each), records.size(), input);
  }
  input.slowest_m_s = speeds.narrower().slowest_m_s;
  input.fastest_m_s = speeds.narrower().fastest_m_s;
  return input;
}

double port_zone_m(const protocol::Fork& fork) {
  const auto& stated = fork.air_spring.transfer_travel_m;
  return (stated ? stated->value : kAssumedTransfer_m) + kPortZone_m;
}

ThermalReference thermal_reference(const FitInput& input) {
  return {input.mean_pressure_gauge_Pa + protocol::kStandardAtmosphere_Pa, 293.15};
}

}  // namespace fitting
