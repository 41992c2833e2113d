#include "fitting/model/loop_split.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "fitting/model/prediction_request.hpp"
#include "fitting/model/settled_cycle.hpp"

namespace fitting {
namespace {

enum Part : std::size_t { kSliding, kTurning, kHeat, kDamping, kParts };
constexpr std::array<const char*, kParts> kNames = {"friction", "presliding", "heat", "damper"};

LoopSplit make_empty(const FittedModel& model, const PredictionRequest& request) {
  LoopSplit out;
  out.travel_m = make_grid(request.step_m, largest_travel_m(model, request));
  for (const char* name : kNames) {
    out.parts.push_back({name, std::vector<double>(out.travel_m.size(), 0.0), 0.0});
  }
  return out;
}

void split_heat(const FittedModel& model, const PredictionRequest& request, LoopSplit& out) {
  const HeatLaw<double> law(model.law, model.law_values, make_geometry(model.fork),
                            make_circumstances(request), model.reference);
  const int cycles = cycles_to_settle(law, out.travel_m, request.speed_m_s);
  LawState<double> state = law.at_rest(out.travel_m.front(), 0.0);
  for (int i = 1; i < cycles; ++i) run_cycle(law, state, out.travel_m, request.speed_m_s);
  go_over(law, state, out.travel_m, request.speed_m_s, [&](std::size_t i, int direction) {
    const double sliding_N = law.sliding_N(state, request.speed_m_s);
    out.parts[kSliding].force_N[i] += 0.5 * sliding_N;
    out.parts[kTurning].force_N[i] += 0.5 * (direction * state.friction_N - sliding_N);
    out.parts[kHeat].force_N[i] += 0.5 * direction * law.gas_force_N(state);
    out.parts[kDamping].force_N[i] += 0.5 * direction * state.damper_N;
  });
}

void split_exponent(const FittedModel& model, const PredictionRequest& request, LoopSplit& out) {
  out.told_apart = false;
  const ExponentLaw<double> law(model.law_values, make_geometry(model.fork),
                                make_circumstances(request));
  const Cycle<double> cycle = settled_cycle(law, out.travel_m);
  for (std::size_t i = 0; i < out.travel_m.size(); ++i) {
    const SpringParts<double> parts = law.parts(law.true_travel_m(out.travel_m[i]));
    const double sliding_N =
        kinetic_friction_N(model.law_values, parts.positive_Pa, request.ambient_pressure_Pa);
    const double half_N = 0.5 * (cycle.compression_N[i] - cycle.rebound_N[i]);
    out.parts[kSliding].force_N[i] = sliding_N;
    out.parts[kTurning].force_N[i] = half_N - sliding_N;
  }
}

double loss_J(const std::vector<double>& travel_m, const std::vector<double>& half_N) {
  double sum_J = 0.0;
  for (std::size_t i = 1; i < travel_m.size(); ++i) {
    sum_J += (half_N[i - 1] + half_N[i]) * (travel_m[i] - travel_m[i - 1]);
  }
  return sum_J;
}

}  // namespace

protocol::Result<LoopSplit> split_loop(const FittedModel& model, const PredictionRequest& request) {
  const double largest_m = largest_travel_m(model, request);
  if (const auto checked = check_request(model, request, largest_m); !checked) {
    return checked.error();
  }
  LoopSplit out = make_empty(model, request);
  if (model.law == GasLaw::exponent) {
    split_exponent(model, request, out);
  } else {
    split_heat(model, request, out);
  }
  out.half_loop_N.assign(out.travel_m.size(), 0.0);
  for (LoopPart& part : out.parts) {
    part.loss_J = loss_J(out.travel_m, part.force_N);
    for (std::size_t i = 0; i < part.force_N.size(); ++i) out.half_loop_N[i] += part.force_N[i];
  }
  out.loss_J = loss_J(out.travel_m, out.half_loop_N);
  return out;
}

std::string split_sentence(const LoopSplit& split) {
  const std::size_t mid = split.travel_m.size() / 2;
  if (!split.told_apart) {
    return fmt::format(
        "The half-loop is {:.1f} N at {:.0f} mm and the loop takes {:.1f} J per cycle; without a "
        "clock friction and the gas's heat in it cannot be told apart.",
        split.half_loop_N[mid], 1e3 * split.travel_m[mid], split.loss_J);
  }
  const LoopPart& friction = split.parts[kSliding];
  const LoopPart& heat = split.parts[kHeat];
  const LoopPart& damper = split.parts[kDamping];
  const std::string damped = damper.loss_J == 0.0 ? ""
                                                  : fmt::format(", {:.1f} N ({:.1f} J) the damper",
                                                                damper.force_N[mid], damper.loss_J);
  return fmt::format(
      "Of the half-loop of {:.1f} N at {:.0f} mm, {:.1f} N are friction and {:.1f} N the gas's "
      "heat{}; of the {:.1f} J that a cycle takes, {:.1f} J are friction and {:.1f} J heat.",
      split.half_loop_N[mid], 1e3 * split.travel_m[mid], friction.force_N[mid], heat.force_N[mid],
      damped, split.loss_J, friction.loss_J + split.parts[kTurning].loss_J, heat.loss_J);
}

}  // namespace fitting
