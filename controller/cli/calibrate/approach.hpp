// Coming to a place from one side, as gauges are read: the drive's lost motion then lies on that
// side, and a difference between up and down is the drive's, not the operator's.
#pragma once

#include "calibration/readings.hpp"
#include "controller/host/press.hpp"

namespace controller::cli {

// ascending: from below. Overruns by a millimetre where the carriage is on the other side, or
// there already. ERRORS: as Press::move_to.
protocol::Result<void> approach(host::Press& press, int32_t position_steps,
                                calibration::Direction direction, double speed_m_s);

}  // namespace controller::cli
