// The limits of ISO 7500-1, held against what was measured. Limits met by these readings are all
// that is said: a class under the standard also asks for proven standards, for conditions and for
// the machine as a whole.
#pragma once

#include <array>
#include <optional>
#include <string_view>

#include "calibration/performance/force_performance.hpp"

namespace calibration {

enum class Quantity7500 { accuracy_q, repeatability_b, reversibility_v, zero_f0, resolution_a };
inline constexpr size_t kQuantities7500 = 5;
inline constexpr std::array<double, 4> kClasses7500 = {0.5, 1.0, 2.0, 3.0};

std::string_view quantity_symbol(Quantity7500 quantity);  // "q", "b", "v", "f0", "a"
// The largest magnitude that a class allows. REQUIRES: one of kClasses7500.
double limit_percent(Quantity7500 quantity, double machine_class);

struct QuantityVerdict {
  Quantity7500 quantity = Quantity7500::accuracy_q;
  bool measured = false;
  std::optional<double> class_met;  // empty: none of them, or not measured
  double worst_percent = 0.0;       // with its sign, from 20 % of full scale up
  double at_N = 0.0;                // the load where it is worst
};

struct ClassVerdict {
  std::array<QuantityVerdict, kQuantities7500> quantities;  // in the order of the enumeration
  // Of all that was measured; empty where q or b was not, or one of them meets no class.
  std::optional<double> overall;
  bool enough_readings = false;  // three series at least, five loads from 20 to 100 %
  double from_N = 0.0;           // the lowest load from which the overall class holds
  const QuantityVerdict& of(Quantity7500 quantity) const {
    return quantities[static_cast<size_t>(quantity)];
  }
};

ClassVerdict machine_class(const ForcePerformance& performance);

}  // namespace calibration
