#include "controller/cli/calibrate/approach.hpp"

#include <cmath>

namespace controller::cli {

protocol::Result<void> approach(host::Press& press, int32_t position_steps,
                                calibration::Direction direction, double speed_m_s) {
  constexpr double kOverrun_m = 1e-3;
  const auto overrun_steps =
      static_cast<int32_t>(std::lround(kOverrun_m * press.instruments().steps_per_m()));
  const int32_t side = direction == calibration::Direction::descending ? +1 : -1;
  const int32_t before_steps = position_steps + side * overrun_steps;
  const int32_t now_steps = press.newest() ? press.newest()->position_steps : position_steps;
  if (side * (now_steps - before_steps) < 0) {
    if (const auto moved = press.move_to(before_steps, speed_m_s); !moved) return moved;
  }
  return press.move_to(position_steps, speed_m_s);
}

}  // namespace controller::cli
