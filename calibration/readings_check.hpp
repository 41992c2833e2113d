// Whether readings can carry a calibration at all: what stands in them, not what curve fits them.
#pragma once

#include "calibration/readings.hpp"

namespace calibration {

// Dates, gravity, air, standards. ERRORS: input_out_of_range.
protocol::Result<void> check_particulars(const ReadingSet& set);

// Every number finite, no reading at the converter's ends, creep in the order of time. ERRORS:
// calibration_unusable.
protocol::Result<void> check_readings(const ReadingSet& set);

// Within a series: infers each direction that is not said from the order of the loads, and refuses
// an order that contradicts the one said. ERRORS: calibration_unusable.
protocol::Result<void> settle_directions(std::vector<Reading>& readings);

}  // namespace calibration
