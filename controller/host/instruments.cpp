#include "controller/host/instruments.hpp"

#include <fmt/format.h>

#include <cmath>

#include "calibration/instrument.hpp"
#include "calibration/polynomial.hpp"
#include "protocol/wire/codes.hpp"

namespace controller::host {
namespace {

using protocol::AppliedCalibration;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

AppliedCalibration straight(double slope) {
  AppliedCalibration curve;
  curve.coefficients = {0.0, slope};
  curve.covariance = {0.0, 0.0, 0.0, 0.0};
  return curve;
}

double slope_at(const AppliedCalibration& curve, double reading) {
  return calibration::polynomial_slope(curve.coefficients, reading);
}

// Newton's method from the curve's slope at the start; instrument curves are almost straight.
Result<double> reading_at(const AppliedCalibration& curve, double value, double start) {
  constexpr int kStepsMax = 50;
  double reading = start;
  for (int i = 0; i < kStepsMax; ++i) {
    const double step = (value - calibration::apply(curve, reading)) / slope_at(curve, reading);
    if (!std::isfinite(step)) break;
    reading += step;
    if (std::abs(step) < 1e-3) return reading;
  }
  return Error{Errc::input_out_of_range,
               fmt::format("The calibration does not reach {:g}; check its certificate.", value)};
}

Result<int32_t> whole(const Result<double>& reading, double low, double high, const char* what) {
  if (!reading) return reading.error();
  if (*reading < low || *reading > high) {
    return Error{Errc::input_out_of_range,
                 fmt::format("{:.0f} {} are beyond what the rig can say ({:.0f} to {:.0f}). Check "
                             "the bench's limits and the calibration.",
                             *reading, what, low, high)};
  }
  return static_cast<int32_t>(std::lround(*reading));
}

}  // namespace

double Instruments::force_N(double counts) const {
  return calibration::apply_force(force, counts, zero_counts);
}

double Instruments::travel_m(double steps, double force_N) const {
  return calibration::apply_travel(travel, frame, steps, zero_steps, force_N);
}

double Instruments::carriage_m(double steps) const {
  return calibration::apply_travel(travel, std::nullopt, steps, zero_steps, 0.0);
}

Result<int32_t> Instruments::counts_at(double force_N) const {
  const double start = zero_counts.value_or(0.0);
  const double offset_N = zero_counts ? calibration::apply(force, *zero_counts) : 0.0;
  return whole(reading_at(force, force_N + offset_N, start), protocol::wire::kCountsMin,
               protocol::wire::kCountsMax, "counts");
}

Result<int32_t> Instruments::steps_at(double carriage_m) const {
  constexpr double kStepsMax = 1e7;
  const double offset_m = calibration::apply(travel, zero_steps);
  return whole(reading_at(travel, carriage_m + offset_m, zero_steps), -kStepsMax, kStepsMax,
               "steps");
}

double Instruments::steps_per_m() const {
  return std::abs(1.0 / slope_at(travel, zero_steps));
}

Instruments make_instruments(const protocol::Bench& bench, const calibration::Calibration* force,
                             const calibration::Calibration* travel,
                             const calibration::Calibration* frame) {
  Instruments instruments;
  instruments.force = force ? force->applied() : straight(1.0 / kNominalCountsPerN);
  instruments.travel = travel ? travel->applied() : straight(1e-3 / bench.steps_per_mm);
  if (frame) instruments.frame = frame->applied();
  instruments.force_is_calibrated = force != nullptr;
  instruments.travel_is_calibrated = travel != nullptr;
  protocol::InstrumentDoubt assumed;
  assumed.gauge_relative = bench.gauge_relative;
  assumed.gauge_reading_Pa = bench.gauge_reading_Pa;
  instruments.doubt = calibration::instrument_doubt(force, travel, assumed);
  return instruments;
}

}  // namespace controller::host
