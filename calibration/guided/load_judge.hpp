// Whether a steady reading can be that of the load that was asked for, by the line through what was
// read so far.
//
// Agreement is asked for within 2 % of the largest load met, but never more than 0.4 of the
// smallest step between loads, so that neighbouring loads cannot be taken for each other; on top
// come five standard errors of the reading.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calibration/guided/plan.hpp"

namespace calibration {

enum class Refusal { none, unstable, no_change, other_load, sign_reversed, out_of_order, no_value };

struct LoadReading {
  double load = 0.0;
  double reading = 0.0;
};

struct LoadQuestion {
  std::vector<LoadReading> taken;  // in the order in which they were taken
  double load = 0.0;               // asked for, or typed
  double reading = 0.0;
  double standard_error = 0.0;  // of the reading
  // By how much the instrument itself must change at least to be believed moved.
  double smallest_step = 0.0;  // between planned loads
  LoadUnit unit = LoadUnit::kilogram;
  bool is_typed = false;
  // The operator was told that the reading fell under the first load, and stands by it.
  bool sign_is_meant = false;
};

struct LoadVerdict {
  Refusal why = Refusal::none;
  std::string text;                  // a sentence; empty where nothing is wrong
  std::optional<double> looks_like;  // the load that the reading would be of
};

LoadVerdict judge_load(const LoadQuestion& question);

}  // namespace calibration
