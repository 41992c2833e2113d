// Records made by formula, so that a test knows the truth behind every row.
#pragma once

#include <cmath>
#include <functional>
#include <random>
#include <vector>

#include "protocol/record/sweep_record.hpp"

namespace made {

// What a made sweep does. Travel runs as triangles between low and high.
struct Sweep {
  double low_m = 0.0;
  double high_m = 0.150;
  double speed_m_s = 0.004;
  double rows_per_s = 40.0;
  int cycles = 3;
  int conditioning = 0;
  double dwell_s = 0.0;  // at each turn
  double travel_noise_m = 0.0;
  double force_noise_N = 0.0;
  double cycle_scatter_N = 0.0;  // each cycle's force is off by one draw of this
  unsigned seed = 1;
};

// Force at a travel, in compression (+1) or rebound (-1).
using Law = std::function<double(double travel_m, int direction)>;

inline protocol::SweepRecord sweep(const Sweep& plan, const Law& law) {
  protocol::SweepRecord record;
  record.metadata.record_id = "made";
  record.metadata.origin = "sweep";
  record.metadata.fork.name = "Larch 160";
  record.metadata.fork.travel_m = plan.high_m;
  record.metadata.speed_m_s = plan.speed_m_s;
  record.metadata.conditioning_cycles = plan.conditioning;
  std::mt19937_64 engine(plan.seed);
  std::normal_distribution<double> normal;
  const double step_m = plan.speed_m_s / plan.rows_per_s;
  const long per_stroke = std::lround((plan.high_m - plan.low_m) / step_m);
  const long dwell = std::lround(plan.dwell_s * plan.rows_per_s);
  double time_s = 0.0;
  const auto add = [&](double travel_m, int direction, int stroke, double offset_N) {
    record.time_s.push_back(time_s);
    record.stroke.push_back(stroke);
    record.travel_m.push_back(travel_m + plan.travel_noise_m * normal(engine));
    record.force_N.push_back(law(travel_m, direction) + offset_N +
                             plan.force_noise_N * normal(engine));
    time_s += 1.0 / plan.rows_per_s;
  };
  for (int cycle = 0; cycle < plan.cycles; ++cycle) {
    const double offset_N = plan.cycle_scatter_N * normal(engine);
    for (int direction : {+1, -1}) {
      const int stroke = 2 * cycle + (direction > 0 ? 0 : 1);
      const double start_m = direction > 0 ? plan.low_m : plan.high_m;
      // The first row of all is the start; later strokes start behind the turn's row.
      for (long i = stroke == 0 ? 0 : 1; i <= per_stroke; ++i) {
        const double share = static_cast<double>(i) / static_cast<double>(per_stroke);
        add(start_m + direction * share * (plan.high_m - plan.low_m), direction, stroke, offset_N);
      }
      const double end_m = direction > 0 ? plan.high_m : plan.low_m;
      for (long i = 0; i < dwell; ++i) add(end_m, direction, stroke, offset_N);
    }
  }
  return record;
}

}  // namespace made
