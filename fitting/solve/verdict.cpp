#include "fitting/solve/verdict.hpp"

#include <fmt/format.h>

#include <cmath>

#include "fitting/solve/misfit.hpp"
#include "fitting/solve/parameter_table.hpp"
#include "fitting/solve/warnings.hpp"

namespace fitting {
namespace {

constexpr double kStructureLimit = 0.01;  // of the largest force
constexpr double kStructureWarning = 0.003;
constexpr double kChangeLimit = 0.01;
constexpr std::size_t kMisfitsTold = 4;
constexpr double kSameMisfit = 4.5;  // half of a chi-square of 9

// A second minimum that fits as well but says something else leaves no answer.
void check_minima(const LawRun& run, const FittedModel& model, std::vector<std::string>& against) {
  // What the spring is made of, in the first place.
  const bool air = run.map.position_of(kPositiveVolume) >= 0;
  const int at = run.map.position_of(air ? kPositiveVolume : kCoilRate);
  const FittedParameter& quoted = model.parameters[static_cast<std::size_t>(at)];
  const double unit_SI = kLawParameters[air ? kPositiveVolume : kCoilRate].unit_SI;
  for (const Solution& other : run.other_minima) {
    if (other.cost - run.solution.cost > kSameMisfit) continue;
    const double other_value = run.map.value_SI(other.values, at) / unit_SI;
    if (std::abs(other_value - quoted.value) < 3.0 * quoted.standard_uncertainty) continue;
    against.push_back(fmt::format(
        "a second minimum fits as well, with a {} of {:.4g} {} instead of {:.4g} {}; add sweeps "
        "{}.",
        air ? "positive volume" : "coil rate", other_value, quoted.unit, quoted.value, quoted.unit,
        air ? "at another pressure or spacer count" : "further into the travel"));
  }
}

void decide_usable(const FitInput& input, const LawRun& run, FittedModel& model) {
  std::vector<std::string> against;
  if (!run.solution.converged) {
    against.push_back(fmt::format("the solver did not converge from any of {} starts: {}",
                                  run.started, run.solution.message));
  }
  for (const FittedParameter& parameter : model.parameters) {
    const bool essential = parameter.name == "exponent" && parameter.value > 1.2;
    if (essential && parameter.status == ParameterStatus::at_bound) {
      against.push_back(parameter.name +
                        " is at its bound: the gas cannot do what the record shows, so a "
                        "volume, the pressure or the travel is wrong.");
    }
  }
  check_minima(run, model, against);
  std::size_t told = 0;
  for (const Misfit& misfit : model.misfits) {
    const bool change = misfit.stroke >= 0;
    const bool large = std::abs(misfit.size_N) > kChangeLimit * input.largest_force_N;
    if (change && large) {
      against.push_back(misfit.text + ".");
    } else if (told++ < kMisfitsTold) {
      model.warnings.push_back(misfit.text + ".");
    }
  }
  const double share = model.structured_residual_N / input.largest_force_N;
  const std::string where = fmt::format(
      "the residual has a structure of {:.1f} N ({:.2f} % of the largest force), worst {:+.1f} N "
      "at {:.0f} mm: something in the fork or the rig is not in the model.",
      model.structured_residual_N, 100.0 * share, -run.structure.worst_N,
      1e3 * run.structure.worst_travel_m);
  if (share > kStructureLimit) {
    against.push_back(where);
  } else if (share > kStructureWarning) {
    model.warnings.push_back(where + " The uncertainties are widened by it.");
  }
  model.usable = against.empty();
  model.warnings.insert(model.warnings.begin(), against.begin(), against.end());
}

}  // namespace

Uncertainty uncertainty_of(const FitInput& input, const LawRun& run) {
  const double error_N = model_error_N(run.structure, input.has_time, run.problem.size(),
                                       input.paths.size(), input.largest_force_N);
  return find_uncertainty(run.by_cells(), run.sweep_list(), run.solution.values, run.structure,
                          bench_doubt(input, run.form), error_N);
}

void judge(const FitInput& input, const LawRun& run, FittedModel& model) {
  if (!std::isfinite(run.solution.cost)) {
    model.usable = false;
    model.warnings.push_back(
        "no start gave the chambers a volume over the whole travel; check the fork file's volumes, "
        "diameters and travel against the record.");
    return;
  }
  model.law_values = run.map.law(run.solution.values, 0);
  model.law_values[kFillError] = 0.0;
  model.rms_residual_N = run.structure.rms_N;
  model.structured_residual_N = run.structure.structured_N;
  for (const Path& path : input.paths) model.samples += path.samples;
  const Uncertainty uncertainty = uncertainty_of(input, run);
  model.singular_values = uncertainty.singular_values;
  model.spikes = input.spikes;
  fill_table(input, run, uncertainty, model);
  model.misfits = find_misfits(input, run);
  decide_usable(input, run, model);
  warn_of_strain(input, run, model);
  warn_of_assumptions(input, model);
}

}  // namespace fitting
