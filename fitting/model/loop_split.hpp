// What the loop of a settled cycle is made of: friction that slides, friction that is still turning
// round, the gas's heat, and the open damper. Half the loop's width is none of them alone.
//
//   half-loop(x) = friction + presliding + heat + damper        loss per cycle = 2 integral dx
//
// Presliding is negative: near a reversal friction has not come round yet, so that it holds back
// less than it will.
#pragma once

#include "fitting/model/predict.hpp"

namespace fitting {

struct LoopPart {
  std::string name;             // friction, presliding, heat, damper
  std::vector<double> force_N;  // half the difference between the strokes
  double loss_J = 0.0;          // per cycle
};

struct LoopSplit {
  std::vector<double> travel_m;     // ascending from 0, length M
  std::vector<double> half_loop_N;  // M, the sum of the parts
  double loss_J = 0.0;              // per cycle
  std::vector<LoopPart> parts;
  // False without a clock: heat hides in the friction, which is then an upper bound.
  bool told_apart = true;
};

// Of the settled cycle between full extension and the request's travel, at its speed. ERRORS: those
// of predict.
protocol::Result<LoopSplit> split_loop(const FittedModel& model, const PredictionRequest& request);

// "Of the half-loop of 14.2 N at half travel 8.1 N are friction, 5.9 N heat of the gas ..."
std::string split_sentence(const LoopSplit& split);

}  // namespace fitting
