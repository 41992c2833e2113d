#include "fitting/solve/fork_fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "fitting/solve/law_run.hpp"
#include "fitting/solve/verdict.hpp"

namespace fitting {
namespace {

// How many independent things a residual tells: samples within a correlation length repeat one
// another.
double told(const LawRun& run) {
  return double(run.structure.samples) /
         std::max(1.0, 2.0 * run.structure.correlation_length_m * run.structure.samples_per_m);
}

// Bayesian information criterion. The forms have the same number of parameters and see the same
// data, so only the misfit differs; for it to be comparable, all are counted as telling the same.
double criterion(const LawRun& run, double told_by_all) {
  const double misfit_N2 =
      run.structure.structured_N * run.structure.structured_N +
      run.structure.noise_N * run.structure.noise_N * told_by_all / double(run.structure.samples);
  return told_by_all * std::log(misfit_N2);
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

protocol::Result<FittedModel> fit_fork(const std::vector<protocol::SweepRecord>& records,
                                       const FitOptions& options) {
  protocol::Result<FitInput> made = make_fit_input(records);
  if (!made) return made.error();
  const FitInput& input = *made;

  std::vector<std::unique_ptr<LawRun>> runs;
  if (input.has_time) {
    runs.push_back(run_law(input, GasLaw::wall_coefficient, options, {}));
    // The other form lies close by in all but the thermal times: fewer starts suffice.
    FitOptions fewer = options;
    fewer.starts = std::max(3, options.starts / 3);
    runs.push_back(run_law(input, GasLaw::constant_time, fewer, {runs.front()->solution.values}));
  } else {
    runs.push_back(run_law(input, GasLaw::exponent, options, {}));
  }
  double told_by_all = std::numeric_limits<double>::infinity();
  for (const auto& run : runs) {
    if (std::isfinite(run->solution.cost)) told_by_all = std::min(told_by_all, told(*run));
  }
  const LawRun* best = runs.front().get();
  for (const auto& run : runs) {
    if (std::isfinite(run->solution.cost) &&
        (!std::isfinite(best->solution.cost) ||
         criterion(*run, told_by_all) < criterion(*best, told_by_all))) {
      best = run.get();
    }
  }

  FittedModel model;
  model.fork = input.fork;
  model.law = best->law;
  model.reference = thermal_reference(input);
  model.context = make_context(input);
  for (const auto& run : runs) {
    if (!std::isfinite(run->solution.cost)) continue;
    model.laws_tried.push_back({run->law, "", run->problem.size(), run->structure.structured_N,
                                criterion(*run, told_by_all) - criterion(*best, told_by_all)});
  }
  judge(input, *best, model);
  return model;
}

}  // namespace fitting
