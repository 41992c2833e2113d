// The sweeps of one fit, made ready: checked against each other, lone outliers left out, reduced to
// paths.
#pragma once

#include <vector>

#include "fitting/model/fitted_model.hpp"
#include "fitting/model/path.hpp"

namespace fitting {

// Travel of the transfer port where the fork file names none.
inline constexpr double kAssumedTransfer_m = 3e-3;

struct FitInput {
  protocol::Fork fork;
  std::vector<protocol::SweepRecord> records;
  std::vector<Path> paths;
  bool has_time = true;
  double mean_pressure_gauge_Pa = 0.0;
  double mean_speed_m_s = 0.0;
  double largest_travel_m = 0.0;
  double largest_force_N = 0.0;
  bool any_spacers = false;
  bool single_stroke = false;
  // Speeds of the slowest and the fastest stroke of all sweeps, of the direction in which they
  // differ less.
  double slowest_m_s = 0.0;
  double fastest_m_s = 0.0;
  std::size_t spikes = 0;  // rows left out

  // Whether speeds differ by enough to tell what depends on them.
  bool tells_speeds() const { return has_time && fastest_m_s > kTellingSpeeds * slowest_m_s; }
  static constexpr double kTellingSpeeds = 1.8;
};

protocol::Result<FitInput> make_fit_input(const std::vector<protocol::SweepRecord>& records,
                                          int threads = 1);

// Travel up to which a path's cells stay small, for the port that may lie there.
double port_zone_m(const protocol::Fork& fork);

ThermalReference thermal_reference(const FitInput& input);

}  // namespace fitting
