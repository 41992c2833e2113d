// The load cell with its amplifier and 24-bit converter: newtons in, counts out, with the vices of
// the real thing.
//
//   counts = offset + gain (1 + drift) F' + noise
//   F' = F + non-linearity + hysteresis + creep + zero drift
//
// Hysteresis remembers the path, not the time: loaded from nothing the cell says what it would
// without, coming back it says more, and the two meet where it turned and where it is unloaded. It
// is made of stops s_i, springs that follow the force until they slip at their threshold r_i:
//
//   s_i <- clamp(s_i + dF, -r_i, r_i)       unloaded: -r_i
//   hysteresis = k sum(b_i - s_i)           b_i = min(F - r_i, r_i), what s_i is on first loading
//
// Thresholds halve from a quarter of full scale, so that a smaller loop is a smaller copy, about in
// proportion to its largest force. A cell that was never loaded is not quite settled: its first
// loading leaves the zero a little higher.
//
// Creep follows the load with one time constant. Saturated readings are the converter's end codes.
// Deterministic for a seed. Not thread-safe.
#pragma once

#include <array>
#include <cstdint>
#include <random>

#include "controller/virtual_rig/plant_file.hpp"

namespace controller::virtual_rig {

class LoadCell {
 public:
  LoadCell(const LoadCellData& data, uint64_t seed);

  // One conversion. REQUIRES: duration since the last one, for the creep.
  int32_t sample(double force_N, double room_K, double since_last_s);

  // What a perfect end-point calibration at the reference temperature makes of counts.
  double nominal_N(int32_t counts) const {
    return (counts - data_.offset_counts) / data_.counts_per_N;
  }
  double period_s() const { return 1.0 / data_.samples_per_s; }
  void silence_noise() { data_.noise_N = 0.0; }

 private:
  static constexpr size_t kStops = 8;

  double gaussian();
  // Moves the stops to this force. REQUIRES: a call for every sample.
  double hysteresis_N(double force_N);

  LoadCellData data_;
  std::mt19937_64 random_;
  double crept_N_ = 0.0;
  double last_force_N_ = 0.0;
  std::array<double, kStops> thresholds_N_{};
  std::array<double, kStops> stops_N_{};
};

}  // namespace controller::virtual_rig
