#include "tests/benchmarks/fit_study/study.hpp"

#include <algorithm>

#include "fitting/model/predict.hpp"
#include "fitting/solve/fork_fit.hpp"
#include "fitting/solve/parallel.hpp"
#include "protocol/error.hpp"

namespace fit_study {
namespace {

using namespace fitting;

constexpr double kSagShare = 0.2;        // of the travel
constexpr double kPredictStep_m = 5e-4;  // of a prediction's rows
constexpr double kRare = 0.01;
// A stretch names a place when most of it lies there; this far beside it is still there.
constexpr double kBeside_m = 0.005;
constexpr double kMost = 0.5;

Pull pull_of(const FittedModel& model, const std::string& name, double truth) {
  Pull out;
  out.truth = truth;
  if (!model.usable) out.told = Told::not_usable;
  for (const FittedParameter& parameter : model.parameters) {
    if (parameter.name != name) continue;
    out.value = parameter.value;
    out.standard_uncertainty = parameter.standard_uncertainty;
    if (model.usable && parameter.status == ParameterStatus::fitted) out.told = Told::yes;
  }
  return out;
}

Pull force_at_sag(const DrawnFork& fork, const FittedModel& model) {
  Pull out;
  const double travel_m = kSagShare * fork.plant().fork.travel_m;
  out.truth = fork.truth(fork.mean_pressure_Pa()).slow_spring_N(travel_m);
  out.told = Told::not_usable;
  if (!model.usable) return out;
  const auto predicted =
      predict(model, like_fitted(model, model.context.mean_pressure_gauge_Pa, 0));
  if (!predicted) return out;
  const auto at = static_cast<std::size_t>(std::lround(travel_m / kPredictStep_m));
  out.value = predicted->spring_N[at];
  out.standard_uncertainty = predicted->spring_standard_uncertainty_N[at];
  out.told = Told::yes;
  return out;
}

bool names_place(const Misfit& misfit, const DrawnFork& fork) {
  const Place place = fork.place();
  // Of two halves with different friction either may be the wrong one; what can be told is where
  // they meet.
  if (fork.flaw() == Flaw::doubled_friction &&
      std::min(std::abs(misfit.from_m - place.from_m), std::abs(misfit.to_m - place.from_m)) <
          kBeside_m) {
    return true;
  }
  const double common_m = std::min(misfit.to_m, place.to_m + kBeside_m) -
                          std::max(misfit.from_m, place.from_m - kBeside_m);
  if (common_m < kMost * (misfit.to_m - misfit.from_m)) return false;
  return fork.spoilt_sweep().empty() || misfit.sweep == fork.spoilt_sweep();
}

// Chance of exactly k of n.
double binomial(int n, int k, double chance) {
  const double ways = std::lgamma(n + 1.0) - std::lgamma(k + 1.0) - std::lgamma(n - k + 1.0);
  return std::exp(ways + k * std::log(chance) + (n - k) * std::log1p(-chance));
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
  out.place_named = std::any_of(model->misfits.begin(), model->misfits.end(),
                                [&](const Misfit& misfit) { return names_place(misfit, fork); });
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

Coverage count_coverage(const std::vector<Fitted>& all, int quantity, double interval_scale) {
  Coverage out;
  for (const Fitted& one : all) {
    const Pull& pull = one.pulls[quantity];
    out.not_determined += pull.told == Told::not_determined;
    out.not_usable += pull.told == Told::not_usable;
    if (pull.told != Told::yes) continue;
    ++out.told;
    out.covered += pull.covered(interval_scale);
    out.mean_pull += pull.deviations();
    out.rms_pull += pull.deviations() * pull.deviations();
  }
  if (out.told == 0) return out;
  out.mean_pull /= out.told;
  out.rms_pull = std::sqrt(out.rms_pull / out.told);
  return out;
}

int fewest_by_chance(int n, double chance) {
  double below = 0.0;
  for (int k = 0; k <= n; ++k) {
    below += binomial(n, k, chance);
    if (below >= kRare) return k;
  }
  return n;
}

int most_by_chance(int n, double chance) {
  return n - fewest_by_chance(n, 1.0 - chance);
}

}  // namespace fit_study
