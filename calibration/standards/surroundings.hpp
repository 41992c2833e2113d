// Gravity and air where the weights hang, from what is known of the place.
#pragma once

#include "calibration/readings.hpp"

namespace calibration {

// Where weights were used and the set does not state gravity or air density, works them out:
// gravity from the latitude (and altitude, else sea level), air density from temperature, pressure
// and humidity as soon as one of them, or the room's temperature, or the altitude is known; what is
// not known is taken as 20 degC, the standard atmosphere at the altitude, and 50 %. A remark says
// what came from where. ERRORS: input_out_of_range.
protocol::Result<void> settle_conditions(ReadingSet& set);

}  // namespace calibration
