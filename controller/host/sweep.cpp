#include "controller/host/sweep.hpp"

#include <fmt/format.h>

#include <cmath>

#include "calibration/instrument.hpp"
#include "protocol/record/metadata_json.hpp"

namespace controller::host {

using protocol::Coupling;
using protocol::Errc;
using protocol::Error;
using protocol::in_unit;
using protocol::Metadata;
using protocol::Result;

namespace {

// What a fork may feel while its top-out is looked for.
constexpr double kMountingForce_N = 300.0;
// An air spring can pull its axle back by its negative chamber and friction; a rig that only
// pushes feels nothing of that.
constexpr double kPullMax_N = 300.0;
constexpr double kPushSlack_N = 50.0;
// Steeper than any fork, its last bumper and a coil's end included.
constexpr double kRateMax_N_m = 300e3;
// Beyond the strokes on either side.
constexpr double kStrokeMargin_m = 0.0005;
// A drift of the unloaded cell that deserves a word.
constexpr double kZeroDrift_N = 2.0;

Error out_of_range(const std::string& message) {
  return {Errc::input_out_of_range, message};
}

}  // namespace

std::vector<protocol::SweepPart> parts_of(const SweepPlan& plan) {
  if (!plan.program.empty()) return plan.program;
  return {{plan.speed_m_s, plan.measuring_cycles, 0.0, 0}};
}

Result<void> check_plan(const SweepPlan& plan) {
  const protocol::Fork& fork = plan.metadata.fork;
  const double pressure_Pa = plan.metadata.setting.pressure_gauge_Pa;
  if (protocol::has_air_spring(fork.kind) && pressure_Pa > fork.maximum_pressure_Pa) {
    return out_of_range(fmt::format(
        "{:.1f} psi is above the limit of {} ({:.1f} psi). Let air out; nothing has moved.",
        in_unit(pressure_Pa, "psi"), fork.name, in_unit(fork.maximum_pressure_Pa, "psi")));
  }
  for (const protocol::SweepPart& part : parts_of(plan)) {
    if (!(part.speed_m_s > 0.0)) return out_of_range("The speed must be greater than zero.");
    if (part.cycles < 1) return out_of_range("A sweep has at least one measuring cycle.");
    if (!(part.dwell_s >= 0.0) || part.stops < 0) {
      return out_of_range("A rest and the number of stops must not be negative.");
    }
  }
  if (plan.conditioning_cycles < 0) {
    return out_of_range("The number of conditioning cycles must not be negative.");
  }
  if (!(plan.to_m > 0.0) || plan.to_m > fork.travel_m) {
    return out_of_range(fmt::format("{} has {:.1f} mm of travel; a stroke to {:.1f} mm cannot be.",
                                    fork.name, fork.travel_m * 1e3, plan.to_m * 1e3));
  }
  if (plan.to_m >= plan.travel_max_m) {
    return out_of_range(
        fmt::format("A stroke to {:.1f} mm is beyond the bench's limit of {:.1f} "
                    "mm ([limits] travel).",
                    plan.to_m * 1e3, plan.travel_max_m * 1e3));
  }
  return {};
}

Sweep::Sweep(Press& press, protocol::FileSystem& files, const SweepPlan& plan, Operator& person,
             const CheckedOff&, const SweepHooks& hooks)
    : press_(press),
      files_(files),
      plan_(plan),
      person_(person),
      hooks_(hooks),
      meter_(hooks.progress) {}

Result<SweepOutcome> Sweep::run() {
  press_.set_on_look(
      [this] { meter_.update(press_.session().device_time_us(), press_.session().now()); });
  Result<void> done = make_ready();
  if (done) done = home();
  if (done) done = arm();
  if (done) done = rest_at_start();
  if (done) done = record();
  press_.set_listener(nullptr);
  press_.set_on_look(nullptr);
  if (!done) return protocol::at(step_, done.error());
  meter_.finish();
  return outcome_;
}

void Sweep::enter(const std::string& step) {
  step_ = step;
  meter_.enter(step);
}

// --- Before the first row -----------------------------------------------------------------------

Result<void> Sweep::make_ready() {
  enter("getting ready");
  Result<void> done = check_plan(plan_);
  if (!done) return done;
  for (const auto& path : {plan_.path, protocol::metadata_path(plan_.path)}) {
    if (!files_.exists(path)) continue;
    return Error{Errc::output_exists,
                 fmt::format("'{}' exists already and is not overwritten; choose another --out.",
                             path.string())};
  }
  const auto folder = protocol::folder_of(plan_.path);
  if (!files_.exists(folder)) {
    return Error{Errc::write_failed,
                 fmt::format("The folder '{}' does not exist; make it, or choose another --out.",
                             folder.string())};
  }
  const double speed_max_m_s =
      press_.session().rig().maximum_speed_steps_per_s / press_.instruments().steps_per_m();
  for (const protocol::SweepPart& part : parts_of(plan_)) {
    if (part.speed_m_s <= speed_max_m_s) continue;
    return out_of_range(fmt::format("{:.1f} mm/s is faster than the rig can ({:.1f} mm/s).",
                                    part.speed_m_s * 1e3, speed_max_m_s * 1e3));
  }
  const Result<uint16_t> old_faults = press_.prepare();
  if (!old_faults) return old_faults.error();
  return press_.set_limits(wide_limits(-kMountingForce_N, kMountingForce_N));
}

// Between the switch and the bench's limit, wherever travel zero lies by now.
PressLimits Sweep::wide_limits(double force_low_N, double force_high_N) const {
  const double switch_m = press_.instruments().carriage_m(0.0);
  return {force_low_N, force_high_N, switch_m, switch_m + plan_.travel_max_m};
}

Result<void> Sweep::home() {
  if (!press_.position_is_known()) {
    enter("homing");
    const Result<int32_t> homed = press_.home();
    if (!homed) return homed.error();
  }
  enter("finding top-out");
  const Result<TopOut> found = find_top_out(press_, plan_.top_out, person_);
  if (!found) return found.error();
  top_out_ = *found;
  return {};
}

Result<void> Sweep::arm() {
  enter("setting the limits");
  const Instruments& instruments = press_.instruments();
  const Result<int32_t> start = instruments.steps_at(0.0);
  const Result<int32_t> end = instruments.steps_at(plan_.to_m);
  if (!start) return start.error();
  if (!end) return end.error();
  start_steps_ = *start;
  end_steps_ = *end;
  const bool clamped = plan_.top_out.coupling == Coupling::clamped;
  PressLimits limits = wide_limits(clamped ? -kPullMax_N : -kPushSlack_N, plan_.force_max_N);
  if (plan_.to_m + kStrokeMargin_m > limits.carriage_high_m) {
    return out_of_range(
        fmt::format("From where the fork tops out {:.1f} mm are left to the bench's limit; a "
                    "stroke to {:.1f} mm is too long ([limits] travel).",
                    limits.carriage_high_m * 1e3, plan_.to_m * 1e3));
  }
  limits.carriage_high_m = plan_.to_m + kStrokeMargin_m;
  limits.rate_max_N_m = kRateMax_N_m;
  // The carriage may still stand a little above top-out, from the pull.
  limits.carriage_low_m = -kStrokeMargin_m;
  return press_.set_limits(limits);
}

Result<void> Sweep::rest_at_start() {
  enter("settling");
  meter_.begin(planned_s(plan_, press_.settings().acceleration_m_s2),
               press_.session().device_time_us(), press_.session().now());
  const Result<void> moved = press_.move_to(start_steps_, parts_of(plan_).front().speed_m_s);
  if (!moved) return moved;
  return press_.rest(plan_.settle_s);
}

double planned_s(const SweepPlan& plan, double acceleration_m_s2) {
  const auto cycle_s = [&](const protocol::SweepPart& part, bool rests) {
    const double start_s = part.speed_m_s / acceleration_m_s2;
    const double rest_s = rests ? part.dwell_s * (part.stops + 1) : 0.0;
    return 2.0 * (plan.to_m / part.speed_m_s + start_s * (rests ? part.stops + 1 : 1) + rest_s);
  };
  const std::vector<protocol::SweepPart> parts = parts_of(plan);
  double out_s = plan.settle_s + cycle_s(parts.front(), false) * plan.conditioning_cycles;
  for (const protocol::SweepPart& part : parts) out_s += cycle_s(part, true) * part.cycles;
  return out_s;
}

// --- The rows -----------------------------------------------------------------------------------

Result<void> Sweep::record() {
  enter("opening the record");
  fill_in(plan_.metadata);
  Result<std::unique_ptr<Recorder>> recorder =
      Recorder::create(files_, plan_.path, plan_.metadata, press_, hooks_.observer);
  if (!recorder) return recorder.error();
  recorder_ = std::move(recorder).value();
  press_.set_listener(recorder_.get());
  Result<void> done = cycles();
  press_.set_listener(nullptr);
  if (!done) return interrupted(done.error());

  recorder_->end_rows();
  Metadata& metadata = recorder_->metadata();
  metadata.measuring_cycles = outcome_.measured_cycles;
  if (plan_.force_certificate) note_range(*plan_.force_certificate);
  done = zero_again();
  // The rows are whole, whatever happens now.
  if (!done) {
    outcome_.afterwards = protocol::at(step_, done.error());
    metadata.remarks.push_back("The unloaded load cell could not be read after the sweep: " +
                               done.error().message);
  }
  if (press_.lost_steps() != 0) outcome_.afterwards = lost_steps(press_.lost_steps());
  enter("closing the record");
  outcome_.path = plan_.path;
  outcome_.rows = recorder_->rows();
  outcome_.largest_force_N = recorder_->largest_force_N();
  outcome_.lost_samples = metadata.counters.lost_samples;
  outcome_.remarks = metadata.remarks;
  return recorder_->close("");
}

void Sweep::fill_in(Metadata& metadata) const {
  const Instruments& instruments = press_.instruments();
  metadata.origin = "sweep";
  metadata.state = protocol::RecordState::running;
  if (metadata.rig_id.empty()) metadata.rig_id = press_.session().rig_id();
  metadata.speed_m_s = parts_of(plan_).front().speed_m_s;
  metadata.conditioning_cycles = plan_.conditioning_cycles;
  metadata.program = plan_.program;
  metadata.measuring_cycles = 0;
  for (const protocol::SweepPart& part : parts_of(plan_)) metadata.measuring_cycles += part.cycles;
  metadata.setting.start = protocol::GasStart::equilibrium;
  metadata.setting.coupling = plan_.top_out.coupling;
  if (!metadata.conditions.settled_s) metadata.conditions.settled_s = plan_.settle_s;
  metadata.zero_before_counts = top_out_.zero.counts;
  metadata.travel_zero_steps = instruments.zero_steps;
  metadata.force_calibration = instruments.force;
  metadata.travel_calibration = instruments.travel;
  metadata.frame_calibration = instruments.frame;
  metadata.doubt = instruments.doubt;
  if (!instruments.force_is_calibrated) {
    metadata.remarks.emplace_back(
        "Force by the nominal scale of the load cell: no certificate was in use.");
  }
  if (!instruments.travel_is_calibrated) {
    metadata.remarks.emplace_back("Travel by the nominal scale of the screw.");
  }
}

Result<void> Sweep::cycles() {
  const Result<void> settled = conditioning_cycles();
  return settled ? measuring_cycles() : settled;
}

Result<void> Sweep::conditioning_cycles() {
  for (int i = 0; i < plan_.conditioning_cycles; ++i) {
    enter(fmt::format("conditioning, cycle {} of {}", i + 1, plan_.conditioning_cycles));
    const Result<void> done = cycle(parts_of(plan_).front(), true);
    if (!done) return done;
  }
  return {};
}

Result<void> Sweep::measuring_cycles() {
  const int planned = recorder_->metadata().measuring_cycles;
  for (const protocol::SweepPart& part : parts_of(plan_)) {
    for (int i = 0; i < part.cycles; ++i) {
      const int number = outcome_.measured_cycles + 1;
      enter(fmt::format(
          "measuring, cycle {} of {}{}", number, planned,
          plan_.program.empty() ? "" : fmt::format(" at {:.1f} mm/s", 1e3 * part.speed_m_s)));
      const Result<void> done = cycle(part, false);
      if (!done) return done;
      outcome_.measured_cycles = number;
      if (number < planned && hooks_.enough && hooks_.enough->enough(number)) {
        recorder_->metadata().remarks.push_back(
            fmt::format("Ended after {} of {} measuring cycles, enough being known. {}", number,
                        planned, hooks_.enough->why()));
        return {};
      }
    }
  }
  return {};
}

Result<void> Sweep::cycle(const protocol::SweepPart& part, bool conditioning) {
  const Result<void> in = stroke(part, conditioning);
  return in ? stroke(part, conditioning) : in;
}

// With rests, the stops lie evenly between the turns, and the far turn rests too: rows go on there,
// and belong to the stroke that arrives.
Result<void> Sweep::stroke(const protocol::SweepPart& part, bool conditioning) {
  const int number = strokes_++;
  const bool compression = number % 2 == 0;
  const int32_t from = compression ? start_steps_ : end_steps_;
  const int32_t to = compression ? end_steps_ : start_steps_;
  const bool rests = !conditioning && part.dwell_s > 0.0;
  const int legs = rests ? part.stops + 1 : 1;
  recorder_->begin_stroke(number);
  for (int leg = 1; leg <= legs; ++leg) {
    const auto way = static_cast<int64_t>(to - from) * leg / legs;
    Result<void> done = press_.move_to(from + static_cast<int32_t>(way), part.speed_m_s);
    if (done && rests) done = press_.rest(part.dwell_s);
    if (!done) return done;
  }
  return recorder_->end_stroke({number, compression, conditioning});
}

// RETURNS the error, with where the rows so far are kept in it.
Error Sweep::interrupted(const Error& error) {
  const uint64_t rows = recorder_->rows();
  recorder_->metadata().measuring_cycles = outcome_.measured_cycles;
  const Result<void> closed = recorder_->close(protocol::at(step_, error).message);
  Error told = error;
  told.message += closed ? fmt::format(" The {} rows so far are kept in '{}', marked interrupted.",
                                       rows, plan_.path.string())
                         : fmt::format(
                               " The record '{}' could not be closed either; it reads as "
                               "interrupted.",
                               plan_.path.string());
  return told;
}

// --- After the last row -------------------------------------------------------------------------

// A force that no weight has shown yet is less certain, and the reader must know.
void Sweep::note_range(const calibration::Calibration& force) {
  Metadata& metadata = recorder_->metadata();
  const double largest_N = recorder_->largest_force_N();
  metadata.doubt.gain_relative =
      calibration::instrument_doubt(&force, nullptr, {}, largest_N).gain_relative;
  if (const auto remark = calibration::beyond_range_remark(force, largest_N)) {
    metadata.remarks.push_back(*remark);
  }
}

// Travel that was counted and not gone is in no sample; the record must not be taken for good.
Error Sweep::lost_steps(int32_t steps) {
  const std::string what = fmt::format(
      "the motor lost steps on the way: homed again, the carriage was {:.2f} mm from "
      "where it was counted",
      std::abs(steps) / press_.instruments().steps_per_m() * 1e3);
  recorder_->metadata().unusable_reason = what;
  return {Errc::stopped_by_guard,
          fmt::format("The sweep is not to be trusted: {}. Sweep slower or with less acceleration, "
                      "check the driver's current and that nothing rubs. The record is kept and "
                      "marked unusable.",
                      what)};
}

Result<void> Sweep::zero_again() {
  enter("reading the unloaded load cell again");
  const Result<void> wide = press_.set_limits(wide_limits(-kMountingForce_N, kMountingForce_N));
  if (!wide) return wide;
  const Result<ZeroReading> zero = read_zero_again(press_, plan_.top_out, person_);
  if (!zero) return zero.error();
  Metadata& metadata = recorder_->metadata();
  metadata.zero_after_counts = zero->counts;
  const double drift_N = press_.instruments().force_N(zero->counts);
  outcome_.zero_drift_N = drift_N;
  metadata.doubt.zero_N = std::hypot(metadata.doubt.zero_N, calibration::drift_doubt_N(drift_N));
  if (std::abs(drift_N) > kZeroDrift_N) {
    metadata.remarks.push_back(fmt::format(
        "The unloaded load cell drifted by {:.1f} N during the sweep, more than the {:.0f} N of a "
        "steady bench: let it warm up, look at its mounting and cable, and sweep again.",
        drift_N, kZeroDrift_N));
  }
  return {};
}

}  // namespace controller::host
