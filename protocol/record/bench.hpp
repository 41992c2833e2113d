// The bench of a workshop: which rig, its limits, and what its instruments leave in doubt.
#pragma once

#include <optional>
#include <string>

#include "protocol/record/sweep_record.hpp"

namespace protocol {

struct Bench {
  // [rig]
  std::string port;     // "/dev/serial/by-id/...", or "virtual:FILE"; empty: not said
  std::string rig_id;   // a name for records, so that two sweeps know that they share a rig
  std::string cell_id;  // of the load cell that is mounted; empty: not said
  double steps_per_mm = 400.0;
  Coupling coupling = Coupling::clamped;
  // [sweep]
  double speed_m_s = 0.004;
  double acceleration_m_s2 = 0.05;
  // [limits], enforced by the rig and watched again by the host
  double force_max_N = 2500.0;
  double travel_max_m = 0.200;
  // [place]
  std::optional<double> gravity_m_s2;  // local, for weights in kilograms
  std::optional<double> latitude_rad;
  std::optional<double> altitude_m;
  // [gauge], standard uncertainties
  double gauge_relative = 0.01;
  double gauge_reading_Pa = 3447.0;
  // [calibrations], paths relative to the bench file; empty: none
  std::string force_calibration;
  std::string travel_calibration;
  std::string frame_calibration;
};

}  // namespace protocol
