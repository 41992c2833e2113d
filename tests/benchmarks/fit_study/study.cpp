#include "tests/benchmarks/fit_study/study.hpp"

#include <cmath>

#include "fitting/model/predict.hpp"
#include "fitting/solve/fork_fit.hpp"
#include "fitting/solve/parallel.hpp"
#include "protocol/error.hpp"

namespace fit_study {
namespace {

using namespace fitting;

constexpr double kSagShare = 0.2;  // of the travel

Pull pull_of(const FittedModel& model, const std::string& name, double truth) {
  Pull out;
  out.truth = truth;
  for (const FittedParameter& parameter : model.parameters) {
    if (parameter.name != name) continue;
    out.value = parameter.value;
    out.standard_uncertainty = parameter.standard_uncertainty;
    out.told = model.usable && parameter.status == ParameterStatus::fitted;
  }
  return out;
}

Pull force_at_sag(const DrawnFork& fork, const FittedModel& model) {
  Pull out;
  const double travel_m = kSagShare * fork.plant().fork.travel_m;
  out.truth = fork.truth(fork.mean_pressure_Pa()).slow_spring_N(travel_m);
  const auto predicted =
      predict(model, like_fitted(model, model.context.mean_pressure_gauge_Pa, 0));
  if (!predicted) return out;
  const auto at = static_cast<std::size_t>(std::lround(travel_m / 5e-4));
  out.value = predicted->spring_N[at];
  out.standard_uncertainty = predicted->spring_standard_uncertainty_N[at];
  out.told = true;
  return out;
}

bool names(const std::vector<Misfit>& misfits, const Place& place) {
  for (const Misfit& misfit : misfits) {
    if (misfit.from_m <= place.to_m && misfit.to_m >= place.from_m) return true;
  }
  return false;
}

}  // namespace

Fitted fit_drawn(std::uint64_t seed, Flaw flaw) {
  const DrawnFork fork(seed, flaw);
  FitOptions options;
  options.threads = 1;
  const auto model = fit_fork(fork.sweeps(), options);
  ENSURE(model);
  Fitted out;
  out.seed = seed;
  out.usable = model->usable;
  out.flagged = !model->usable || !model->misfits.empty();
  out.place_named = names(model->misfits, fork.place());
  out.structured_N = model->structured_residual_N;
  const auto truth = fork.truth(fork.mean_pressure_Pa());
  out.pulls[0] = pull_of(*model, "positive_volume", 1e6 * truth.positive_volume_m3());
  out.pulls[1] =
      pull_of(*model, "friction_mid_travel", truth.friction_mid_travel_N(fork.speed_m_s()));
  out.pulls[2] = pull_of(*model, "preload", truth.preload_N());
  out.pulls[3] = force_at_sag(fork, *model);
  for (const Misfit& misfit : model->misfits) out.texts.push_back(misfit.text);
  for (const std::string& warning : model->warnings) out.texts.push_back(warning);
  return out;
}

std::vector<Fitted> fit_many(int count, std::uint64_t first, Flaw flaw, int threads) {
  std::vector<Fitted> out(static_cast<std::size_t>(count));
  for_each_parallel(count, threads, [&](int i) {
    out[static_cast<std::size_t>(i)] = fit_drawn(first + static_cast<std::uint64_t>(i), flaw);
  });
  return out;
}

}  // namespace fit_study
