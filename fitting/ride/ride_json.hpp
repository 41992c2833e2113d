// Everything a ride's log says, asked at once, and as JSON.
#pragma once

#include <nlohmann/json.hpp>
#include <vector>

#include "fitting/ride/ridden.hpp"

namespace fitting {

struct RideQuestion {
  std::vector<double> band_edges_m;                     // ascending; empty: thirds of the travel
  std::vector<double> speed_shares = {0.5, 0.9, 0.99};  // of the time spent moving that way
};

struct TravelBand {
  double from_m = 0.0;
  double to_m = 0.0;
  double share = 0.0;  // of the time
};

struct RideAnswer {
  RideTrace trace;
  TimeByTravel time;
  RideSummary summary;
  std::vector<TravelBand> bands;
  std::vector<double> speed_shares;
  SpeedQuantiles speeds;
};

RideAnswer answer_ride(RideTrace trace, const RideQuestion& question = {});

nlohmann::ordered_json ride_json(const RideAnswer& answer);

}  // namespace fitting
