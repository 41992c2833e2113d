// What a failing load cell, its cable or its converter makes of a conversion.
#pragma once

#include <cmath>
#include <cstdint>
#include <optional>
#include <random>

#include "protocol/wire/codes.hpp"

namespace controller::virtual_rig {

class CellFaults {
 public:
  explicit CellFaults(uint64_t seed) : random_(seed) {}

  void freeze() { frozen_ = true; }                                  // the same reading for ever
  void saturate() { held_counts_ = protocol::wire::kCountsMax; }     // the end code for ever
  void silence() { silent_ = true; }                                 // no conversion any more
  void reverse() { reversed_ = true; }                               // its wires are swapped
  void shake(double noise_counts) { noise_counts_ = noise_counts; }  // a loose plug

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
