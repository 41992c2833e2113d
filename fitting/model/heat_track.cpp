#include "fitting/model/heat_track.hpp"

#include <cmath>

#include "fitting/model/earlier_cycles.hpp"

namespace fitting {
namespace {

constexpr int kMoreThanLanes = 16;

class Builder {
 public:
  explicit Builder(const Path& path) {
    track_.largest_travel_m = path.largest_travel_m;
    put(path.start_m, 0.0, 0.0);
  }

  void add(double travel_m, double span_s) {
    const double moved_m = travel_m - track_.travel_m.back();
    put(travel_m, moved_m, span_s);
    ++track_.steps;
  }

  HeatTrack finish() {
    const double last_m = track_.travel_m.back();
    for (int i = 0; i < kMoreThanLanes; ++i) put(last_m, 0.0, 0.0);
    return std::move(track_);
  }

  void end_earlier() { track_.earlier = track_.steps; }

 private:
  void put(double travel_m, double moved_m, double span_s) {
    track_.travel_m.push_back(travel_m);
    track_.span_s.push_back(span_s);
    track_.length_m.push_back(std::abs(moved_m));
    track_.direction.push_back(moved_m > 0.0 ? 1.0 : (moved_m < 0.0 ? -1.0 : 0.0));
    track_.speed_m_s.push_back(span_s > 0.0 ? moved_m / span_s : 0.0);
  }

  HeatTrack track_;
};

}  // namespace

HeatTrack make_heat_track(const Path& path, protocol::GasStart start) {
  Builder builder(path);
  if (start == protocol::GasStart::cycled) {
    go_through_earlier_cycles(
        path, [&](double travel_m, double span_s) { builder.add(travel_m, span_s); });
  }
  builder.end_earlier();
  double last_s = path.start_s;
  for (const PathNode& node : path.nodes) {
    builder.add(node.travel_m, node.time_s - last_s);
    last_s = node.time_s;
  }
  return builder.finish();
}

}  // namespace fitting
