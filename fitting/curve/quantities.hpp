// What a curve says in single numbers.
//
// Each has its unit in its name and a standard uncertainty where one can be given; a quantity that
// the record does not hold is absent with the reason beside it, never a guess. The uncertainty is
// that of the measurement: noise, scatter between cycles, load cell gain and zero, travel zero.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "fitting/curve/curve.hpp"

namespace fitting {

struct Quantity {
  std::string name;  // force_at_2_mm_N
  std::optional<double> value;
  std::optional<double> standard_uncertainty;
  std::string note;  // why it is absent, or how it is to be read
};

struct QuantityOptions {
  std::optional<double> load_N;         // sag: where the curve carries this
  std::optional<double> work_travel_m;  // work up to here, besides full travel
};

// What a curve alone does not know of itself.
struct CurveContext {
  double fork_travel_m = 0.0;
  std::optional<double> bumper_m;
  // Zero for a curve whose covariance holds all of its doubt, such as a model's.
  protocol::InstrumentDoubt doubt;
};

// Forces at travels, free extension, sag, rate, ramp and work. A slow spring from a model is asked
// the same way as a measured midline.
std::vector<Quantity> curve_quantities(const Curve& curve, const CurveContext& context,
                                       const QuantityOptions& options = {});

// Those of the midline, and those that need both strokes: breakaway force, loss per cycle,
// repeatability, half-loop. REQUIRES: the record that the loop was made of. ERRORS: as
// midline_curve.
protocol::Result<std::vector<Quantity>> loop_quantities(const protocol::SweepRecord& record,
                                                        const Loop& loop,
                                                        const QuantityOptions& options = {});

const Quantity* find_quantity(const std::vector<Quantity>& quantities, const std::string& name);

}  // namespace fitting
