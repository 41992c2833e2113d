// What a failing load cell, its cable or its converter makes of a conversion.
#pragma once

#include <cmath>
#include <cstdint>
#include <optional>
#include <random>

#include "controller/virtual_rig/faults.hpp"
#include "protocol/wire/codes.hpp"

namespace controller::virtual_rig {

class CellFaults {
 public:
  explicit CellFaults(uint64_t seed) : random_(seed) {}

  // RETURNS whether it is a fault of the cell; others are left to whoever knows them.
  bool strike(const Fault& fault, double counts_per_N) {
    switch (fault.kind) {
      case FaultKind::stuck_load_cell:
        frozen_ = true;
        return true;
      case FaultKind::saturated_load_cell:
        held_counts_ = protocol::wire::kCountsMax;
        return true;
      case FaultKind::silent_load_cell:
        silent_ = true;
        return true;
      case FaultKind::noisy_load_cell:
        noise_counts_ = fault.amount * counts_per_N;
        return true;
      case FaultKind::reversed_load_cell:
        reversed_ = true;
        return true;
      default:
        return false;
    }
  }

  // RETURNS what the converter hands over, if anything.
  std::optional<int32_t> pass(int32_t counts) {
    if (silent_) return std::nullopt;
    if (reversed_) counts = -counts;
    if (noise_counts_ > 0.0) {
      counts += static_cast<int32_t>(
          std::lround(std::normal_distribution<double>(0.0, noise_counts_)(random_)));
    }
    if (frozen_ && !held_counts_) held_counts_ = counts;
    return held_counts_ ? *held_counts_ : counts;
  }

 private:
  std::mt19937_64 random_;
  std::optional<int32_t> held_counts_;
  bool frozen_ = false;
  bool silent_ = false;
  bool reversed_ = false;
  double noise_counts_ = 0.0;
};

}  // namespace controller::virtual_rig
