// The rig's counts and steps as newtons and metres, with the certificates in use or, without one,
// with the nominal figures of the bench and the doubt that goes with them.
//
// Force is counted from the unloaded cell, travel from where top-out was found; both zeros are set
// while a sweep is being prepared.
#pragma once

#include <optional>

#include "calibration/calibration.hpp"
#include "protocol/record/bench.hpp"

namespace controller::host {

// A 5 kN cell of 2 mV/V on a 24-bit converter with a gain of 128, whose range is 4 mV/V to either
// side: half of 2^23 counts at 5 kN.
inline constexpr double kNominalCountsPerN = 4194304.0 / 5000.0;

struct Instruments {
  protocol::AppliedCalibration force;   // counts -> N
  protocol::AppliedCalibration travel;  // steps -> m
  std::optional<protocol::AppliedCalibration> frame;
  protocol::InstrumentDoubt doubt;
  bool force_is_calibrated = false;
  bool travel_is_calibrated = false;

  std::optional<double> zero_counts;  // empty: the curve's own zero
  double zero_steps = 0.0;

  double force_N(double counts) const;
  double travel_m(double steps, double force_N) const;
  // Where the carriage is, the frame's give included.
  double carriage_m(double steps) const;

  // The way back, to the nearest count or step. ERRORS: input_out_of_range beyond what the curve
  // or the converter can say.
  protocol::Result<int32_t> counts_at(double force_N) const;
  protocol::Result<int32_t> steps_at(double carriage_m) const;
  // A distance or speed along the screw, always positive.
  double steps_per_m() const;
};

// REQUIRES: each certificate of its kind; null: none.
Instruments make_instruments(const protocol::Bench& bench, const calibration::Calibration* force,
                             const calibration::Calibration* travel,
                             const calibration::Calibration* frame);

}  // namespace controller::host
