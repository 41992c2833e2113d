#include "fitting/solve/fork_fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "fitting/solve/law_run.hpp"
#include "fitting/solve/second_look.hpp"
#include "fitting/solve/verdict.hpp"

namespace fitting {
namespace {

// How many independent things a residual tells: samples within a correlation length repeat one
// another.
double told(const LawRun& run) {
  return double(run.structure.samples) /
         std::max(1.0, 2.0 * run.structure.correlation_length_m * run.structure.samples_per_m);
}

// Bayesian information criterion. For the misfits to be comparable, all forms are counted as
// telling the same.
double criterion(const LawRun& run, double told_by_all) {
  const double misfit_N2 =
      run.structure.structured_N * run.structure.structured_N +
      run.structure.noise_N * run.structure.noise_N * told_by_all / double(run.structure.samples);
  return told_by_all * std::log(misfit_N2) + run.problem.size() * std::log(told_by_all);
}

using LawRuns = std::vector<std::unique_ptr<LawRun>>;

double told_by_all(const LawRuns& runs) {
  double out = std::numeric_limits<double>::infinity();
  for (const auto& run : runs) {
    if (run->exists()) out = std::min(out, told(*run));
  }
  return out;
}

const LawRun& best_of(const LawRuns& runs) {
  const double told = told_by_all(runs);
  const LawRun* best = runs.front().get();
  for (const auto& run : runs) {
    if (!run->exists()) continue;
    if (!best->exists() || criterion(*run, told) < criterion(*best, told)) best = run.get();
  }
  return *best;
}

// A coil's elements that the fork file does not state are alternatives; those it states are there.
std::vector<LawForm> coil_forms(const FitInput& input, GasLaw gas) {
  const protocol::CoilSpring& coil = input.fork.coil_spring;
  std::vector<LawForm> out;
  for (bool added_rate : {false, true}) {
    for (bool top_out : {false, true}) {
      if (coil.second_rate_N_m && !added_rate) continue;
      if (coil.top_out_rate_N_m && !top_out) continue;
      LawForm form = gas;
      form.added_rate = added_rate;
      form.top_out = top_out;
      out.push_back(form);
    }
  }
  return out;
}

// Forms with the usual elements; the first gets the most starts.
std::vector<LawForm> plain_forms(const FitInput& input) {
  const bool air = protocol::has_air_spring(input.fork.kind);
  if (!air) {
    return coil_forms(input, input.has_time ? GasLaw::wall_coefficient : GasLaw::exponent);
  }
  if (!input.has_time) return {GasLaw::exponent};
  return {GasLaw::wall_coefficient, GasLaw::constant_time};
}

LawRuns run_forms(const FitInput& input, const FitOptions& options) {
  LawRuns runs;
  // The others lie close by in all but what they add: fewer starts suffice.
  FitOptions fewer = options;
  fewer.starts = std::max(3, options.starts / 3);
  for (const LawForm& form : plain_forms(input)) {
    const bool first = runs.empty();
    runs.push_back(
        run_law(input, form, first ? options : fewer, first ? nullptr : runs.front().get()));
  }
  if (!input.has_time || !input.tells_speeds()) return runs;
  // With every one of them: which is right may show only once the speeds are told apart.
  const std::size_t plain = runs.size();
  for (std::size_t of = 0; of < plain; ++of) {
    for (const auto& [excess, damper] : {std::pair{false, true}, {true, false}, {true, true}}) {
      LawForm form = runs[of]->form;
      form.static_excess = excess;
      form.damper = damper;
      runs.push_back(run_law(input, form, fewer, runs[of].get()));
    }
  }
  return runs;
}

FitContext make_context(const FitInput& input) {
  const protocol::Metadata& first = input.records.front().metadata;
  FitContext out;
  out.mean_pressure_gauge_Pa = input.mean_pressure_gauge_Pa;
  out.mean_speed_m_s = input.mean_speed_m_s;
  out.temperature_K = first.setting.temperature_K;
  out.ambient_pressure_Pa = first.setting.ambient_pressure_Pa;
  out.vent = first.setting.vent;
  out.swept_travel_m = input.largest_travel_m;
  out.largest_force_N = input.largest_force_N;
  out.gauge_reading_Pa = first.doubt.gauge_reading_Pa;
  out.rig_id = first.rig_id;
  if (first.force_calibration) {
    out.calibrated_force_N = first.force_calibration->range_high;
    out.force_calibration_id = first.force_calibration->id;
  }
  for (const protocol::SweepRecord& record : input.records) {
    out.record_ids.push_back(record.metadata.record_id);
  }
  return out;
}

}  // namespace

FittedRun fit_input(const FitInput& input, const FitOptions& options) {
  LawRuns runs = run_forms(input, options);
  const LawRun& best = best_of(runs);

  FittedRun out;
  FittedModel& model = out.model;
  model.fork = input.fork;
  model.law = best.form.gas;
  model.reference = thermal_reference(input);
  model.context = make_context(input);
  const double told = told_by_all(runs);
  for (const auto& run : runs) {
    if (!run->exists()) continue;
    model.laws_tried.push_back({run->form.gas, elements_of(run->form), run->problem.size(),
                                run->structure.structured_N,
                                criterion(*run, told) - criterion(best, told)});
  }
  judge(input, best, model);
  if (best.exists() && options.profiles) add_profiles(best, options.threads, model);
  if (best.exists() && options.bootstrap_replicates > 0) add_bootstrap(best, options, model);
  for (auto& run : runs) {
    if (run.get() == &best) out.run = std::move(run);
    if (out.run) break;
  }
  return out;
}

protocol::Result<FittedModel> fit_fork(const std::vector<protocol::SweepRecord>& records,
                                       const FitOptions& options) {
  const protocol::Result<FitInput> input = make_fit_input(records, options.threads);
  if (!input) return input.error();
  return fit_input(*input, options).model;
}

}  // namespace fitting
