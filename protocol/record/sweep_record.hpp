// A sweep in memory: the path through travel and force in the order it was measured, and all that
// is needed to understand it without any other file.
//
// Rows are the path: travel goes back and forth, and nothing is ever sorted. All vectors that are
// not empty have the same length. A column that the source lacks is empty.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "protocol/record/fork.hpp"

namespace protocol {

// When and where the lower legs were last opened to the air.
struct Vent {
  double travel_m = 0.0;
  double pressure_Pa = kStandardAtmosphere_Pa;  // absolute
  double temperature_K = 293.15;
};

// What the gas is at the first row: at rest with the room, or as left by cycles like those
// recorded.
enum class GasStart { equilibrium, cycled };

// Whether the axle is clamped (the rig can pull, a negative force is valid) or the rig only pushes.
enum class Coupling { clamped, push };

// The fork as set up for the test.
struct Setting {
  double pressure_gauge_Pa = 0.0;  // positive chamber, full extension, after slow cycles
  int spacers = 0;
  double temperature_K = 293.15;                        // at the pressure reading and in the test
  double ambient_pressure_Pa = kStandardAtmosphere_Pa;  // absolute
  std::optional<double> pumped_temperature_K;           // where pumped elsewhere
  std::optional<double> pumped_ambient_pressure_Pa;
  Vent vent;
  GasStart start = GasStart::equilibrium;
  Coupling coupling = Coupling::clamped;
  std::string damper_clicks;  // free text, as the fork names them
};

// Lost motion of the drive: a rebound stroke's travel reads too small by it.
struct Backlash {
  double value_m = 0.0;
  double standard_uncertainty_m = 0.0;
};

// One fitted instrument curve as used for this record: value = sum of coefficient[i] * reading^i.
struct AppliedCalibration {
  std::string id;  // SHA-256 of the certificate's content
  std::vector<double> coefficients;
  std::vector<double> covariance;  // row-major, square
  double range_low = 0.0;          // calibrated range, in the units of the value
  double range_high = 0.0;
  std::string valid_until;                // ISO 8601 date, empty if none
  std::optional<Backlash> backlash = {};  // of a travel calibration that went both ways
};

// What the instruments leave in doubt, as standard uncertainties.
struct InstrumentDoubt {
  double gain_relative = 0.005;  // load cell gain, common to all sweeps of a rig
  double zero_N = 1.0;
  double travel_zero_m = 0.0002;
  double gauge_relative = 0.01;      // common to all fills with one gauge
  double gauge_reading_Pa = 3447.0;  // each fill; half a psi
  bool calibrated = false;           // false: the values are assumptions
};

// Counters that let a bad curve explain itself.
struct LineCounters {
  uint64_t frames = 0;
  uint64_t bad_frames = 0;
  uint64_t resync_bytes = 0;
  uint64_t lost_samples = 0;
  uint64_t late_replies = 0;
};

enum class RecordState { running, complete, interrupted };

// How the test was run, as far as the operator said so.
struct TestConditions {
  std::optional<double> settled_s;  // rest after pumping, before the first stroke
  std::optional<double> room_temperature_start_K;
  std::optional<double> room_temperature_end_K;
  std::optional<double> fork_temperature_start_K;
  std::optional<double> fork_temperature_end_K;
  std::optional<int> mounting;  // counts how often the fork was mounted anew
};

// Measuring cycles of one kind; a sweep may go through several in turn.
struct SweepPart {
  double speed_m_s = 0.0;
  int cycles = 0;
  double dwell_s = 0.0;  // rest at every stop and turn
  int stops = 0;         // evenly spaced on each stroke, between its turns
};

struct Metadata {
  std::string record_id;  // unique
  std::string created;    // ISO 8601 UTC; a label, never used as a clock
  RecordState state = RecordState::complete;
  std::string state_reason;     // why it was interrupted, empty otherwise
  std::string unusable_reason;  // the operator's verdict, empty: usable
  std::string origin;           // "sweep" or "import"
  std::string source;           // the imported file's name, or the rig's
  std::string source_sha256;    // of the imported file, empty for a sweep
  std::string rig_id;           // empty: not said
  Fork fork;
  Setting setting;
  std::optional<double> speed_m_s;  // as commanded
  int conditioning_cycles = 0;      // strokes at the start that only settle the gas
  int measuring_cycles = 0;
  std::vector<SweepPart> program;  // as commanded; empty: all cycles alike, without a stop
  bool single_stroke = false;      // a one-way curve: no half-loop
  std::optional<double> pressure_after_gauge_Pa;  // read again after the sweep
  TestConditions conditions;
  std::optional<double> zero_before_counts;
  std::optional<double> zero_after_counts;
  std::optional<double> travel_zero_steps;  // where travel 0 was found
  std::string recomputed_from;  // record_id of the record whose raw counts and steps these are
  std::optional<AppliedCalibration> force_calibration;   // counts -> N
  std::optional<AppliedCalibration> travel_calibration;  // steps -> m
  std::optional<AppliedCalibration> frame_calibration;   // N -> m of frame deflection
  InstrumentDoubt doubt;
  LineCounters counters;
  uint64_t torn_rows = 0;            // dropped when the record was read
  std::vector<std::string> remarks;  // whatever the reader must know
};

struct SweepRecord {
  Metadata metadata;
  std::vector<double> time_s;  // empty: measured without a clock
  std::vector<int> stroke;     // empty: not numbered by the source
  std::vector<double> travel_m;
  std::vector<double> force_N;
  std::vector<int64_t> raw_steps;  // empty for foreign data
  std::vector<int64_t> raw_counts;

  size_t size() const { return travel_m.size(); }
  bool has_time() const { return !time_s.empty(); }
};

}  // namespace protocol
