// One sweep of a fork, from homing to the closed record.
//
//   home -> zero the cell -> find top-out -> arm the limits -> settle
//        -> conditioning cycles -> measuring cycles -> zero the cell again -> close
//
// Rows are taken from the first conditioning stroke to the end of the last measuring one, between
// travel 0 and `to`. Whatever ends it early - the operator, the rig, the guard, the line, the disk
// - leaves the rig stopped and the record closed as interrupted, with the reason in it; the error
// names the step. Nothing moves again by itself.
#pragma once

#include <filesystem>

#include "controller/host/check_list.hpp"
#include "controller/host/progress.hpp"
#include "controller/host/recorder.hpp"
#include "controller/host/sweep_observer.hpp"
#include "controller/host/top_out.hpp"
#include "protocol/record/file_system.hpp"

namespace controller::host {

struct SweepPlan {
  std::filesystem::path path;  // of the record, ends in ".csv"
  // Fork, setting, conditions, ids, source. The sweep fills in what it finds.
  protocol::Metadata metadata;
  double speed_m_s = 0.004;
  double to_m = 0.0;  // the far end of each stroke
  int conditioning_cycles = 2;
  int measuring_cycles = 3;
  // Measuring cycles of several speeds, or with rests on the way, in turn; empty: those above.
  std::vector<protocol::SweepPart> program;
  double settle_s = 30.0;       // at rest before the first stroke: five times a chamber's slowest
  double force_max_N = 2500.0;  // the bench's
  double travel_max_m = 0.200;
  TopOutSettings top_out;
  // Of the calibrated range's end, when the largest force turns out to lie beyond it.
  std::optional<calibration::Calibration> force_certificate;
};

// The parts of a plan, one at least.
std::vector<protocol::SweepPart> parts_of(const SweepPlan& plan);

// From the rest before the first stroke to the end of the last, without stops for a person.
double planned_s(const SweepPlan& plan, double acceleration_m_s2);

// Null: nobody.
struct SweepHooks {
  SweepObserver* observer = nullptr;
  StopPredicate* enough = nullptr;
  ProgressSink* progress = nullptr;
};

struct SweepOutcome {
  std::filesystem::path path;
  uint64_t rows = 0;
  int measured_cycles = 0;
  double largest_force_N = 0.0;
  uint64_t lost_samples = 0;
  std::optional<double> zero_drift_N;  // after less before
  std::vector<std::string> remarks;
  // What went wrong after the last row, when the record was complete already.
  std::optional<protocol::Error> afterwards;
};

// Refuses, before anything moves, what the fork, the bench or the rig cannot do. ERRORS:
// input_out_of_range.
protocol::Result<void> check_plan(const SweepPlan& plan);

class Sweep {
 public:
  // All references must outlive the sweep.
  Sweep(Press& press, protocol::FileSystem& files, const SweepPlan& plan, Operator& person,
        const CheckedOff& checked, const SweepHooks& hooks = {});

  // Once. ERRORS: those of every step, with the step's name before them.
  protocol::Result<SweepOutcome> run();

 private:
  protocol::Result<void> make_ready();
  protocol::Result<void> home();
  protocol::Result<void> arm();
  protocol::Result<void> rest_at_start();
  protocol::Result<void> record();
  protocol::Result<void> cycles();
  PressLimits wide_limits(double force_low_N, double force_high_N) const;
  protocol::Result<void> conditioning_cycles();
  protocol::Result<void> measuring_cycles();
  protocol::Result<void> cycle(const protocol::SweepPart& part, bool conditioning);
  protocol::Result<void> stroke(const protocol::SweepPart& part, bool conditioning);
  void note_range(const calibration::Calibration& force);
  protocol::Result<void> zero_again();
  protocol::Error lost_steps(int32_t steps);
  void fill_in(protocol::Metadata& metadata) const;
  void enter(const std::string& step);
  protocol::Error interrupted(const protocol::Error& error);

  Press& press_;
  protocol::FileSystem& files_;
  SweepPlan plan_;
  Operator& person_;
  SweepHooks hooks_;
  ProgressMeter meter_;
  std::string step_;
  TopOut top_out_;
  int32_t start_steps_ = 0;
  int32_t end_steps_ = 0;
  int strokes_ = 0;  // so far
  std::unique_ptr<Recorder> recorder_;
  SweepOutcome outcome_;
};

}  // namespace controller::host
