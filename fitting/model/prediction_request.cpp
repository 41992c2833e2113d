#include "fitting/model/prediction_request.hpp"

#include <fmt/format.h>

#include <cmath>

#include "fitting/model/follow.hpp"

namespace fitting {
namespace {

using protocol::Errc;
using protocol::Error;

constexpr double kSmallestStep_m = 5e-5;

}  // namespace

Circumstances make_circumstances(const PredictionRequest& request) {
  Circumstances at;
  at.pressure_gauge_Pa = request.pressure_gauge_Pa;
  at.spacers = request.spacers;
  at.temperature_K = at.pumped_temperature_K = request.temperature_K;
  at.ambient_Pa = at.pumped_ambient_Pa = request.ambient_pressure_Pa;
  at.vent = request.vent;
  return at;
}

double largest_travel_m(const FittedModel& model, const PredictionRequest& request) {
  return request.travel_max_m > 0.0 ? request.travel_max_m : model.context.swept_travel_m;
}

std::vector<double> make_grid(double step_m, double largest_m) {
  std::vector<double> out;
  for (int i = 0; double(i) * step_m <= largest_m * (1.0 + 1e-12); ++i)
    out.push_back(double(i) * step_m);
  return out;
}

protocol::Result<void> check_request(const FittedModel& model, const PredictionRequest& request,
                                     double largest_m) {
  if (!model.usable) {
    return Error{
        Errc::fit_not_usable,
        fmt::format("the model is marked not usable{}{}; a prediction from it would mean nothing.",
                    model.warnings.empty() ? "" : ": ",
                    model.warnings.empty() ? "" : model.warnings.front())};
  }
  const bool air = protocol::has_air_spring(model.fork.kind);
  if (!air && (request.pressure_gauge_Pa != 0.0 || request.spacers != 0)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("'{}' has a coil: it takes neither a pressure nor spacers; leave them "
                             "out.",
                             model.fork.name)};
  }
  if (air && request.pressure_gauge_Pa > model.fork.maximum_pressure_Pa) {
    return Error{
        Errc::input_out_of_range,
        fmt::format(
            "{:.1f} psi is over the limit of {:.1f} psi that the fork file states for '{}'.",
            protocol::in_unit(request.pressure_gauge_Pa, "psi"),
            protocol::in_unit(model.fork.maximum_pressure_Pa, "psi"), model.fork.name)};
  }
  // Written so that a value that is no number fails.
  const bool sound = request.pressure_gauge_Pa >= 0.0 && request.spacers >= 0 &&
                     request.step_m > 0.0 && request.speed_m_s > 0.0 &&
                     largest_m >= request.step_m && request.temperature_K > 0.0 &&
                     request.ambient_pressure_Pa > 0.0 && request.vent.pressure_Pa > 0.0 &&
                     request.vent.temperature_K > 0.0 && std::isfinite(request.vent.travel_m);
  if (!sound) {
    return Error{
        Errc::input_out_of_range,
        "pressure and spacers must not be negative; step, speed, travel, temperatures and absolute "
        "pressures must be positive."};
  }
  if (request.step_m < kSmallestStep_m) {
    return Error{
        Errc::input_out_of_range,
        fmt::format("a step of {:.3g} mm is finer than {:.2g} mm, below which nothing changes.",
                    1e3 * request.step_m, 1e3 * kSmallestStep_m)};
  }
  const Chambers<double> chambers =
      make_chambers(model.law_values, make_geometry(model.fork), request.spacers);
  if (!volumes_remain(chambers, largest_m)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("with {} spacers '{}' has no air left at {:.0f} mm; take fewer.",
                             request.spacers, model.fork.name, 1e3 * largest_m)};
  }
  return {};
}

PredictionRequest like_fitted(const FittedModel& model, double pressure_gauge_Pa, int spacers) {
  PredictionRequest out;
  out.pressure_gauge_Pa = pressure_gauge_Pa;
  out.spacers = spacers;
  out.temperature_K = model.context.temperature_K;
  out.ambient_pressure_Pa = model.context.ambient_pressure_Pa;
  out.vent = model.context.vent;
  if (model.context.mean_speed_m_s > 0.0) out.speed_m_s = model.context.mean_speed_m_s;
  return out;
}

}  // namespace fitting
