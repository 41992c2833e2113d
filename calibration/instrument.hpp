// Certificates at work: raw counts and steps to force and travel, and what they leave in doubt.
#pragma once

#include <optional>
#include <string>

#include "calibration/calibration.hpp"
#include "protocol/record/sweep_record.hpp"

namespace calibration {

// The value of a curve as it stands in a record.
double apply(const protocol::AppliedCalibration& curve, double reading);

// Force in N. With the counts of the unloaded cell, its drift since the calibration is taken off.
double apply_force(const protocol::AppliedCalibration& force, double counts,
                   std::optional<double> zero_counts = std::nullopt);

// Travel in m from the steps where it was set to zero, less the deflection of the frame under the
// force: the screw moves frame and fork, the fork alone is asked for. The deflection counts from
// zero force.
double apply_travel(const protocol::AppliedCalibration& travel,
                    const std::optional<protocol::AppliedCalibration>& frame, double steps,
                    double zero_steps, double force_N);

// The certificates of a rig as doubt about its numbers. Starts from `assumed` and replaces what a
// certificate says: gain (slope, standards and gravity), zero (one new reading of the unloaded
// cell), travel zero (the assumed doubt of finding top-out, with the scatter of the travel
// readings). With `largest_force_N` beyond the calibrated range the gain widens by the stated
// prior. REQUIRES: each certificate of its kind.
protocol::InstrumentDoubt instrument_doubt(const Calibration* force, const Calibration* travel,
                                           const protocol::InstrumentDoubt& assumed = {},
                                           std::optional<double> largest_force_N = std::nullopt);

// A sentence where a force lies beyond what was calibrated, with what that does to its uncertainty.
std::optional<std::string> beyond_range_remark(const Calibration& force, double largest_force_N);

// What a drift of the zero over a sweep adds to the zero's standard uncertainty: anywhere between
// nothing and all of it had happened at any one row (rectangular).
double drift_doubt_N(double drift_N);

}  // namespace calibration
