#include "fitting/report/axis_scale.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "protocol/error.hpp"

namespace fitting {
namespace {

constexpr double kLittleOfStep = 0.35;

double round_step(double rough) {
  const double power = std::pow(10.0, std::floor(std::log10(rough)));
  const double leading = rough / power;
  if (leading <= 1.0 + 1e-9) return power;
  if (leading <= 2.0 + 1e-9) return 2.0 * power;
  if (leading <= 5.0 + 1e-9) return 5.0 * power;
  return 10.0 * power;
}

}  // namespace

std::string AxisScale::tick_text(double value) const {
  const double clean = std::abs(value) < 1e-9 * step ? 0.0 : value;
  return fmt::format("{:.{}f}", clean, decimals);
}

std::string AxisScale::widest_tick() const {
  const std::string low = tick_text(first_tick);
  const std::string high = tick_text(to);
  return low.size() > high.size() ? low : high;
}

AxisScale make_scale(double low, double high, int ticks, bool widened) {
  ENSURE(std::isfinite(low) && std::isfinite(high) && low <= high && ticks >= 2);
  const double tiny = std::max(1e-9, 1e-9 * std::max(std::abs(low), std::abs(high)));
  if (high - low < tiny) {
    const double half = std::max(0.5, 0.05 * std::abs(low));
    low -= half;
    high += half;
  }
  AxisScale scale;
  scale.step = round_step((high - low) / ticks);
  const double slack = 1e-6;  // of a step: a value on a tick, but for rounding, is on it
  scale.from = low;
  scale.to = high;
  if (widened) {
    const double below = low / scale.step;
    const double above = high / scale.step;
    // What reaches only a little beyond a tick does not open a whole step for it.
    const bool little_below = std::ceil(below) - below < kLittleOfStep;
    const bool little_above = above - std::floor(above) < kLittleOfStep;
    const double pad = kLittleOfStep * scale.step / 4.0;
    if (std::abs(below - std::round(below)) < slack) {
      scale.from = std::round(below) * scale.step;
    } else {
      scale.from = little_below ? low - pad : std::floor(below) * scale.step;
    }
    if (std::abs(above - std::round(above)) < slack) {
      scale.to = std::round(above) * scale.step;
    } else {
      scale.to = little_above ? high + pad : std::ceil(above) * scale.step;
    }
  }
  scale.first_tick = std::ceil(scale.from / scale.step - slack) * scale.step;
  scale.decimals = std::max(0, static_cast<int>(-std::floor(std::log10(scale.step) + 1e-9)));
  return scale;
}

}  // namespace fitting
