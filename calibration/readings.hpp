// What the operator brings to a calibration: readings beside the values of a standard, and the
// particulars that make them traceable. Three kinds share one shape:
//
//   kind     reading               reference
//   force    counts                N, from dead weights or a reference transducer
//   travel   steps                 m, from gauge blocks or a dial indicator
//   frame    N, as calibrated      m of deflection, a rigid block in the fork's place
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "protocol/result.hpp"
#include "protocol/units.hpp"

namespace calibration {

enum class Kind { force, travel, frame };

std::string_view kind_name(Kind kind);
std::optional<Kind> find_kind(std::string_view name);
std::string_view reading_unit(Kind kind);  // "counts", "steps", "N"
std::string_view value_unit(Kind kind);    // "N", "m", "m"

// How the load was reached; `unsaid` where neither the operator nor the order tells.
enum class Direction { unsaid, ascending, descending };

std::string_view direction_name(Direction direction);
std::optional<Direction> find_direction(std::string_view name);

struct Reading {
  double reading = 0.0;
  double reference = 0.0;  // worked out from load_kg where that is given
  int series = 1;
  Direction direction = Direction::unsaid;
  std::optional<double> load_kg;  // as put on, where the reference is a dead weight
  int line = 0;                   // in the file it came from; 0: none
};

// Whether any of them was taken under a dead weight.
bool has_weights(const std::vector<Reading>& readings);

struct Standard {
  std::string name;
  std::string certificate;
  std::optional<double> relative_standard_uncertainty;  // k = 1
  std::string weight_class = {};  // of OIML R 111, such as "M1"; empty: not weights, or not said
  std::string valid_until = {};   // ISO 8601, of its own certificate; empty: not said
};

// How a mass becomes a force.
struct DeadWeightConditions {
  std::optional<double> gravity_m_s2;       // standard gravity, with its doubt, where not given
  std::optional<double> air_density_kg_m3;  // no buoyancy where not given
};

// F = m g (1 - rho_air / rho_weight), m in conventional mass, which is stated against 8000 kg/m3.
inline constexpr double kConventionalDensity_kg_m3 = 8000.0;
double dead_weight_N(double mass_kg, const DeadWeightConditions& conditions);

struct Particulars {
  std::string rig_id;
  std::string cell_id;
  std::string operator_name;
  std::string date;         // ISO 8601
  std::string valid_until;  // ISO 8601, empty: no limit
  std::string place;        // where, in words
  std::string supersedes;   // id of the calibration that this one takes the place of; empty: none
  std::optional<double> temperature_K;  // of the room
  std::vector<Standard> standards;
};

// What the cell says under one load that stays on: how far it creeps.
struct CreepReading {
  double time_s = 0.0;  // since the load was on
  double reading = 0.0;
};

struct CreepRun {
  double load_N = 0.0;                 // worked out from load_kg where that is given
  std::optional<double> load_kg;       // as put on, where it is a dead weight
  std::vector<CreepReading> readings;  // times ascending
};

// Where the weights hang, for gravity and buoyancy that nobody measured
// (standards/surroundings.hpp).
struct Surroundings {
  std::optional<double> latitude_rad;
  std::optional<double> altitude_m;
  std::optional<double> air_temperature_K;  // not said: that of the room
  std::optional<double> air_pressure_Pa;
  std::optional<double> air_humidity;  // relative, 0 to 1
};

struct ReadingSet {
  Kind kind = Kind::force;
  std::vector<Reading> readings;
  DeadWeightConditions conditions;
  Surroundings surroundings;
  Particulars particulars;
  std::vector<std::string> remarks;  // of whoever took the readings; the certificate carries them
  std::optional<CreepRun> creep;     // force only
  // The smallest step of the display or converter that a reading shows; 0: not said.
  double resolution = 0.0;
  // A force reading at or beyond these is saturated. The defaults are a 24-bit converter's ends.
  double counts_lowest = -8388608.0;
  double counts_highest = 8388607.0;
};

// "2026-11-25", a day that exists.
bool is_date(std::string_view text);

}  // namespace calibration
