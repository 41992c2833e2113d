// What a guided calibration goes through: the loads in their order, series by series.
//
// A load is what the operator is asked for, in the unit they think in: kilograms of weights,
// newtons by a reference transducer or pressed by the rig, millimetres of a dial or of gauge
// blocks.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calibration/readings.hpp"

namespace calibration {

enum class LoadUnit { kilogram, newton, millimetre };

std::string_view load_unit_name(LoadUnit unit);  // "kg", "N", "mm"

// "10 kg"
std::string load_text(double load, LoadUnit unit);

struct GuidedPlan {
  Kind kind = Kind::force;
  LoadUnit unit = LoadUnit::kilogram;
  std::vector<double> loads;  // strictly ascending
  int series = 3;
  bool descending = true;  // each series goes down again
};

bool operator==(const GuidedPlan& a, const GuidedPlan& b);

struct GuidedStep {
  int series = 1;
  Direction direction = Direction::ascending;
  double load = 0.0;
};

// A curve and a look at how well it fits need at least so many different loads.
inline constexpr int kGuidedLoadsMin = 3;

// Reads "0, 5, 10, 20 kg": one unit, behind the last. ERRORS: as check_plan(); unit errors.
protocol::Result<GuidedPlan> parse_plan(std::string_view loads, Kind kind, int series);

// ERRORS: input_out_of_range: too few loads, not ascending, negative, too few series; unit errors
// where the unit does not fit the kind.
protocol::Result<void> check_plan(const GuidedPlan& plan);

std::vector<GuidedStep> steps_of(const GuidedPlan& plan);

// The smallest distance between neighbours. REQUIRES: two loads.
double smallest_step(const GuidedPlan& plan);

// Whether the operator reads the value of the standard off something and says it.
bool is_typed(const GuidedPlan& plan);

}  // namespace calibration
