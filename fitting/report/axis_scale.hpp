// Ends and ticks of an axis, at round numbers.
#pragma once

#include <string>

namespace fitting {

struct AxisScale {
  double from = 0.0;
  double to = 1.0;
  double first_tick = 0.0;
  double step = 0.5;
  int decimals = 1;

  std::string tick_text(double value) const;
  // The widest tick text, in characters' order of magnitude: the longer of the two ends'.
  std::string widest_tick() const;
};

// A scale over [low, high] with about `ticks` ticks 1, 2 or 5 times a power of ten apart. Widened:
// its ends are ticks, or a little beyond one; otherwise they stay where they are. An empty range is
// opened around its value.
AxisScale make_scale(double low, double high, int ticks, bool widened);

}  // namespace fitting
