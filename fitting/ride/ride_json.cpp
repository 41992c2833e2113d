#include "fitting/ride/ride_json.hpp"

#include <cmath>

namespace fitting {
namespace {

using nlohmann::ordered_json;

ordered_json number(double value) {
  return std::isfinite(value) ? ordered_json(value) : ordered_json(nullptr);
}

ordered_json numbers(const std::vector<double>& values) {
  ordered_json out = ordered_json::array();
  for (double value : values) out.push_back(number(value));
  return out;
}

std::vector<double> edges_of(const RideQuestion& question, double fork_travel_m) {
  if (!question.band_edges_m.empty()) return question.band_edges_m;
  return {0.0, fork_travel_m / 3.0, fork_travel_m * 2.0 / 3.0, fork_travel_m};
}

// What lies outside the fork's travel belongs to the bands at its ends.
double beyond(const TimeByTravel& time, double travel_m, double fork_travel_m) {
  if (travel_m <= 0.0) return 1.0;
  return travel_m >= fork_travel_m ? 0.0 : time.share_beyond(travel_m);
}

}  // namespace

RideAnswer answer_ride(RideTrace trace, const RideQuestion& question) {
  const TimeByTravel time(trace, kTimeCell_m);
  RideAnswer out{std::move(trace), time, {}, {}, {}, {}};
  const std::vector<WeightedSpeed> speeds = speeds_of(out.trace);
  out.summary = summarise(out.trace, speeds);
  const std::vector<double> edges_m = edges_of(question, out.trace.fork_travel_m);
  for (std::size_t i = 1; i < edges_m.size(); ++i) {
    out.bands.push_back({edges_m[i - 1], edges_m[i],
                         beyond(out.time, edges_m[i - 1], out.trace.fork_travel_m) -
                             beyond(out.time, edges_m[i], out.trace.fork_travel_m)});
  }
  out.speed_shares = question.speed_shares;
  out.speeds = speed_quantiles(speeds, question.speed_shares);
  return out;
}

ordered_json ride_json(const RideAnswer& answer) {
  ordered_json bands = ordered_json::array();
  for (const TravelBand& band : answer.bands) {
    bands.push_back(
        {{"from_mm", 1e3 * band.from_m}, {"to_mm", 1e3 * band.to_m}, {"time_share", band.share}});
  }
  std::vector<double> travel_mm;
  std::vector<double> share;
  for (std::size_t edge = 0; edge < answer.time.edges(); ++edge) {
    travel_mm.push_back(1e3 * answer.time.travel_m(edge));
    share.push_back(answer.time.share_beyond(edge));
  }
  const RideSummary& summary = answer.summary;
  return {{"log", answer.trace.name},
          {"time_s", summary.time_s},
          {"gaps_s", answer.trace.gaps_s},
          {"zero_taken_off_mm", 1e3 * answer.trace.zero_taken_off_m},
          {"mean_travel_mm", 1e3 * summary.mean_m},
          {"deepest_travel_mm", 1e3 * summary.deepest_m},
          {"compressed_m", summary.compressed_m},
          {"extended_m", summary.extended_m},
          {"still_time_share", summary.still_share},
          {"bands", bands},
          {"speed_shares", numbers(answer.speed_shares)},
          {"compression_speed_m_s", numbers(answer.speeds.compression_m_s)},
          {"extension_speed_m_s", numbers(answer.speeds.extension_m_s)},
          {"beyond", {{"travel_mm", numbers(travel_mm)}, {"time_share", numbers(share)}}},
          {"remarks", answer.trace.remarks}};
}

}  // namespace fitting
