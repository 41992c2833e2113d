// What a virtual fork and its bench are made of, and the files that say so.
//
// Every number of these files is invented. A fork's file names its bench's file, relative to
// itself. Values carry units in their text; where the unit has no place in the unit table it stands
// in the key. Unknown keys are refused. Nothing but the plant and its tests reads these files: a
// fit gets a fork file written as with a caliper.
#pragma once

#include <optional>
#include <string>

#include "controller/virtual_rig/lugre.hpp"
#include "protocol/result.hpp"
#include "protocol/units.hpp"

namespace controller::virtual_rig {

// How a chamber's gas meets its wall: by a constant wall coefficient, so that the thermal time
// m c_v / (h A_w(x)) changes with the fill and the travel, or by a constant thermal time.
struct WallLaw {
  double coefficient_W_m2K = 0.0;
  std::optional<double> thermal_time_s;  // where set, it rules
};

struct AirChamber {
  double volume_m3 = 0.0;      // effective, full extension, no spacers
  double extra_area_m2 = 0.0;  // wall of what is not bore: threads, ports, cap
  double extra_volume_m3 = 0.0;
  WallLaw wall;
};

// Joins the two air chambers while the piston seal passes it.
struct TransferPort {
  double centre_m = 0.0;  // travel at the middle of the band
  double band_m = 0.0;    // width at half opening
  double edge_m = 0.0;    // width over which each edge opens
  double area_m2 = 0.0;   // fully open
  double discharge = 0.6;
};

struct LowerLegChamber {
  double stanchion_diameter_m = 0.0;  // outer, each of two
  double volume_m3 = 0.0;             // both, full extension
  double wall_area_m2 = 0.0;          // full extension
  WallLaw wall;
};

struct SealFriction {
  double coulomb_N = 0.0;         // at zero gauge pressure
  double coulomb_N_per_Pa = 0.0;  // times the positive chamber's gauge pressure
  LuGreParameters bristles;
};

struct PlantFork {
  std::string name;
  double travel_m = 0.0;
  double piston_diameter_m = 0.0;
  double shaft_diameter_m = 0.0;
  double spacer_volume_m3 = 0.0;  // each
  AirChamber positive;
  AirChamber negative;
  TransferPort port;
  LowerLegChamber lower_legs;
  double damper_rod_diameter_m = 0.0;
  double damper_compression_Ns_m = 0.0;
  double damper_rebound_Ns_m = 0.0;
  double preload_N = 0.0;
  SealFriction friction;
  double bumper_m = 0.0;       // length
  double bumper_full_N = 0.0;  // force at full travel; grows with the cube of its compression
  double stop_N_m = 0.0;       // mechanical top-out and bottom-out
  double bushing_N_m = 0.0;    // compliance between axle and air spring

  double piston_area_m2() const;
  double negative_area_m2() const;
  double lower_leg_area_m2() const;
};

// The load cell with its amplifier and converter.
struct LoadCellData {
  double counts_per_N = 800.0;
  double offset_counts = 0.0;
  double noise_N = 0.0;  // standard deviation of one sample
  double full_scale_N = 5000.0;
  double non_linearity = 0.0;  // of full scale, largest deviation from the end-point line
  double hysteresis = 0.0;     // of full scale, widest between up and down over a full loop
  double creep = 0.0;          // of the load, after long
  double creep_time_s = 60.0;
  double zero_drift_N_per_K = 0.0;
  double gain_drift_per_K = 0.0;
  double reference_K = 293.15;
  double samples_per_s = 80.0;
};

struct PlantBench {
  std::string name;
  double steps_per_mm = 400.0;  // as built, not as nominal
  double backlash_m = 0.0;
  double frame_N_m = 0.0;
  double top_switch_m = 0.0;  // carriage position, negative: above top-out
  double bottom_switch_m = 0.0;
  LoadCellData load_cell;
  double room_K = 293.15;
  double room_drift_K_per_h = 0.0;
};

struct PlantFile {
  PlantFork fork;
  PlantBench bench;
};

// ERRORS: input_missing, input_malformed, input_unknown_key, input_out_of_range, unit errors; the
// message begins with file:line:column.
protocol::Result<PlantFile> load_plant(const std::string& path);

}  // namespace controller::virtual_rig
