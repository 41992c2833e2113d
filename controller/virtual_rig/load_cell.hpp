// The load cell with its amplifier and 24-bit converter: newtons in, counts out, with the vices of
// the real thing.
//
//   counts = offset + gain (1 + drift) F' + noise,  F' = F + non-linearity + creep + zero drift
//
// Creep follows the load with one time constant. Saturated readings are the converter's end codes.
// Deterministic for a seed. Not thread-safe.
#pragma once

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
  double gaussian();

  LoadCellData data_;
  std::mt19937_64 random_;
  double crept_N_ = 0.0;
};

}  // namespace controller::virtual_rig
