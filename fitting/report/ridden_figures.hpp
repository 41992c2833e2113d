// What rides used of their forks, drawn: where the time was spent, and how fast the wheel moved.
#pragma once

#include <string>
#include <vector>

#include "fitting/report/figure.hpp"
#include "fitting/report/reader_units.hpp"
#include "fitting/ride/ride_json.hpp"

namespace fitting {

struct LabelledRide {
  std::string label;
  const RideAnswer* ride = nullptr;
};

// Share of the time beyond each travel, one line for each of up to two rides.
Figure time_beyond_figure(const std::vector<LabelledRide>& rides, const ReaderUnits& units);

// Share of the moving time that is slower than each speed: going in above, coming out below.
Figure ridden_speeds_figure(const std::vector<LabelledRide>& rides, const ReaderUnits& units);

}  // namespace fitting
