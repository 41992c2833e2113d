#include "fitting/solve/verdict.hpp"

#include <fmt/format.h>

#include <cmath>

namespace fitting {
namespace {

constexpr double kPriorShare = 0.6;     // of an assumption's width: the data said little
constexpr double kRelativeLimit = 0.5;  // a value less known than this is no value
constexpr double kPreloadLimit_N = 40.0;
constexpr double kTransferLimit_m = 4e-3;
constexpr double kStructureLimit = 0.01;  // of the largest force
constexpr double kStructureWarning = 0.003;
constexpr double kSameMisfit = 4.5;  // half of a chi-square of 9
constexpr double kStrainWarning = 3.0;

bool is_secondary(LawIndex index) {
  return index == kTransferBand || index == kNegativeThermalTime || index == kLowerLegThermalTime ||
         index == kLowerLegExponent || index == kPreslidingTravel;
}

bool is_friction(LawIndex index) {
  return index == kFriction || index == kFrictionPerPressure;
}

// How wide the data leave a parameter against what was assumed; 0 where nothing was.
double width_share(const LawRun& run, const Eigen::MatrixXd& statistical, int i) {
  const FreeParameter& free = run.map.free[static_cast<std::size_t>(i)];
  if (free.index == kNegativeThermalTime || free.index == kLowerLegThermalTime) {
    const int time = run.map.position_of(kThermalTime);
    const double tied = statistical(i, i) + statistical(time, time) - 2.0 * statistical(i, time);
    return std::sqrt(std::max(tied, 0.0)) / 0.5;
  }
  if (free.prior_standard_uncertainty <= 0.0 || free.prior_is_stated) return 0.0;
  return std::sqrt(statistical(i, i)) / free.prior_standard_uncertainty;
}

bool too_wide(LawIndex index, double value_SI, double uncertainty_SI) {
  if (index == kPreload) return uncertainty_SI > kPreloadLimit_N;
  if (index == kTransferTravel) return uncertainty_SI > kTransferLimit_m;
  // The two parts of friction trade against each other; their sum is what is well known.
  if (is_friction(index)) return uncertainty_SI > 2.0 * std::abs(value_SI);
  if (index == kExponent || index == kLowerLegExponent) return uncertainty_SI > 0.2;
  return uncertainty_SI > kRelativeLimit * std::abs(value_SI);
}

std::string bound_text(const FittedParameter& parameter) {
  return fmt::format("it ended at its bound of {:.4g} {}", parameter.value, parameter.unit);
}

void decide_status(const FitInput& input, const LawRun& run, const Eigen::MatrixXd& statistical,
                   int i, FittedParameter& out) {
  const LawIndex index = run.map.free[static_cast<std::size_t>(i)].index;
  const double unit_SI = kLawParameters[index].unit_SI;
  if (std::find(run.at_bound.begin(), run.at_bound.end(), i) != run.at_bound.end()) {
    out.status = ParameterStatus::at_bound;
    out.reason = bound_text(out);
    return;
  }
  if (!input.has_time && is_friction(index)) {
    out.status = ParameterStatus::not_determined;
    out.reason = "without a clock the loop's friction and the gas's heat cannot be told apart";
    return;
  }
  if (width_share(run, statistical, i) > kPriorShare) {
    out.status = is_secondary(index) ? ParameterStatus::given : ParameterStatus::not_determined;
    out.reason =
        is_secondary(index)
            ? "assumed: the sweeps do not tell it"
            : "the sweeps leave it as wide as it was assumed; sweeps at another pressure or "
              "spacer count would tell it";
    return;
  }
  if (too_wide(index, out.value * unit_SI, out.standard_uncertainty * unit_SI)) {
    out.status = is_secondary(index) ? ParameterStatus::given : ParameterStatus::not_determined;
    out.reason =
        fmt::format("its uncertainty of {:.2g} {} is too large for a value to mean anything{}",
                    out.standard_uncertainty, out.unit,
                    is_secondary(index) ? "; the others hardly depend on it" : "");
  }
}

void add_free(const FitInput& input, const LawRun& run, const Uncertainty& uncertainty,
              FittedModel& model) {
  const Eigen::VectorXd slopes = run.map.slopes(run.solution.values);
  const int size = run.map.shared_size();
  Eigen::VectorXd to_unit(size);
  for (int i = 0; i < size; ++i) {
    const LawIndex index = run.map.free[static_cast<std::size_t>(i)].index;
    model.free.push_back(index);
    to_unit(i) = slopes(i) / kLawParameters[index].unit_SI;
  }
  const auto scaled = [&](const Eigen::MatrixXd& covariance) -> Eigen::MatrixXd {
    return to_unit.asDiagonal() * covariance.topLeftCorner(size, size) * to_unit.asDiagonal();
  };
  model.own_covariance = scaled(uncertainty.statistical + uncertainty.discrepancy);
  model.statistical_covariance = scaled(uncertainty.statistical);
  for (const Doubt& doubt : uncertainty.doubts) {
    model.shared.push_back({doubt.name, doubt.standard_uncertainty, doubt.shared,
                            to_unit.cwiseProduct(doubt.shift.head(size))});
  }
  const Eigen::MatrixXd total = scaled(uncertainty.total());
  for (int i = 0; i < size; ++i) {
    const LawParameterInfo& info = kLawParameters[model.free[static_cast<std::size_t>(i)]];
    FittedParameter out;
    out.name = info.name;
    out.unit = info.unit;
    out.value = run.map.value_SI(run.solution.values, i) / info.unit_SI;
    out.standard_uncertainty = std::sqrt(total(i, i));
    out.statistical_uncertainty = std::sqrt(model.statistical_covariance(i, i));
    decide_status(input, run, uncertainty.statistical, i, out);
    model.parameters.push_back(out);
  }
}

void add_given(const FitInput& input, const LawRun& run, FittedModel& model) {
  const auto add = [&](LawIndex index, double standard_uncertainty, const char* reason) {
    if (run.map.position_of(index) >= 0) return;
    const LawParameterInfo& info = kLawParameters[index];
    FittedParameter out;
    out.name = info.name;
    out.unit = info.unit;
    out.value = run.map.given[index] / info.unit_SI;
    out.standard_uncertainty = standard_uncertainty;
    out.status = ParameterStatus::given;
    out.reason = reason;
    model.parameters.push_back(out);
  };
  add(kPistonDiameter, 0.0, "from the fork file");
  add(kPressureScale, input.records.front().metadata.doubt.gauge_relative,
      "the gauge's error cannot be told from the volumes; its doubt is carried through");
  if (input.any_spacers) add(kSpacerVolume, 0.0, "from the fork file");
}

void add_fill_errors(const FitInput& input, const LawRun& run, const Uncertainty& uncertainty,
                     FittedModel& model) {
  if (!run.map.fill_errors) return;
  const Eigen::MatrixXd total = uncertainty.total();
  const double to_kPa = run.map.fill_unit_Pa / 1e3;
  for (int s = 0; s < run.map.sweeps; ++s) {
    const int at = run.map.fill_position(s);
    FittedParameter out;
    out.name = "fill_error";
    out.unit = "kPa";
    out.value = run.solution.values(at) * to_kPa;
    out.standard_uncertainty = std::sqrt(total(at, at)) * to_kPa;
    out.statistical_uncertainty = std::sqrt(uncertainty.statistical(at, at)) * to_kPa;
    out.sweep = input.records[static_cast<std::size_t>(s)].metadata.record_id;
    model.parameters.push_back(out);
  }
}

// A one-way curve has no loop: there is nothing to tell friction from.
void add_one_way_friction(FittedModel& model) {
  for (const auto& [name, unit] :
       {std::pair{"friction", "N"}, {"friction_per_bar", "N/bar"}, {"friction_mid_travel", "N"}}) {
    FittedParameter out;
    out.name = name;
    out.unit = unit;
    out.status = ParameterStatus::not_determined;
    out.reason = "a one-way curve has no return stroke to tell it from";
    model.parameters.push_back(out);
  }
}

void add_derived(const FitInput& input, FittedModel& model) {
  if (input.single_stroke) return add_one_way_friction(model);
  const Derived derived = friction_mid_travel(model);
  const auto size = static_cast<Eigen::Index>(model.free.size());
  Eigen::VectorXd gradient(size);
  for (Eigen::Index i = 0; i < size; ++i) {
    const LawIndex index = model.free[static_cast<std::size_t>(i)];
    gradient(i) =
        derived.gradient(static_cast<Eigen::Index>(index)) * kLawParameters[index].unit_SI;
  }
  double variance = gradient.dot(model.own_covariance * gradient);
  for (const SharedDoubt& doubt : model.shared) variance += std::pow(gradient.dot(doubt.shift), 2);
  FittedParameter out;
  out.name = "friction_mid_travel";
  out.unit = "N";
  out.value = derived.value;
  out.standard_uncertainty = std::sqrt(variance);
  out.statistical_uncertainty = std::sqrt(gradient.dot(model.statistical_covariance * gradient));
  if (!input.has_time) {
    out.status = ParameterStatus::not_determined;
    out.reason = fmt::format(
        "without a clock the loop's friction and the gas's heat cannot be told apart; the "
        "half-loop of "
        "{:.1f} N is its upper bound",
        derived.value);
    model.warnings.push_back("friction is not determined: " + out.reason + ".");
  } else if (out.standard_uncertainty > kRelativeLimit * out.value) {
    out.status = ParameterStatus::not_determined;
    out.reason =
        fmt::format("its uncertainty of {:.2g} N is too large for a value to mean anything",
                    out.standard_uncertainty);
  }
  model.parameters.push_back(out);
}

// A second minimum that fits as well but says something else leaves no answer.
void check_minima(const LawRun& run, const FittedModel& model, std::vector<std::string>& against) {
  const int at = run.map.position_of(kPositiveVolume);
  const FittedParameter& volume = model.parameters[static_cast<std::size_t>(at)];
  for (const Solution& other : run.other_minima) {
    if (other.cost - run.solution.cost > kSameMisfit) continue;
    const double other_cm3 = run.map.value_SI(other.values, at) / 1e-6;
    if (std::abs(other_cm3 - volume.value) < 3.0 * volume.standard_uncertainty) continue;
    against.push_back(
        fmt::format("a second minimum fits as well, with a positive volume of {:.1f} cm3 instead "
                    "of {:.1f} cm3; add "
                    "sweeps at another pressure or spacer count.",
                    other_cm3, volume.value));
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

// A wrong diameter or travel bends the parameters rather than the curve: they leave what was stated
// or assumed of them.
void warn_of_strain(const FitInput& input, const LawRun& run, FittedModel& model) {
  for (const LinearPrior& prior : run.problem.priors) {
    if (prior.terms.size() != 1) continue;
    const auto [at, coefficient] = prior.terms.front();
    const double strain =
        std::abs(coefficient * run.solution.values(at) - prior.target) / prior.standard_uncertainty;
    if (strain < kStrainWarning) continue;
    const std::string cause = "; a diameter, a pressure or the travel may be wrong.";
    if (at >= run.map.shared_size()) {
      const auto sweep = static_cast<std::size_t>(at - run.map.shared_size());
      model.warnings.push_back(
          fmt::format("the fill of '{}' differs from its reading by {:.1f} of the gauge's standard "
                      "uncertainties{}",
                      input.records[sweep].metadata.record_id, strain, cause));
      continue;
    }
    const FreeParameter& free = run.map.free[static_cast<std::size_t>(at)];
    // Without a clock these two hold the heat's share of the loop.
    const bool holds_heat = is_friction(free.index) || free.index == kPreslidingTravel;
    if (!input.has_time && holds_heat) continue;
    model.warnings.push_back(fmt::format("{} lies {:.1f} standard uncertainties from what was {}{}",
                                         kLawParameters[free.index].name, strain,
                                         free.prior_is_stated ? "stated" : "assumed", cause));
  }
}

void warn_of_assumptions(const FitInput& input, FittedModel& model) {
  for (const protocol::SweepRecord& record : input.records) {
    const protocol::Metadata& about = record.metadata;
    if (about.state == protocol::RecordState::complete) continue;
    model.warnings.push_back(
        fmt::format("the record {} was interrupted: {} Its {} rows were fitted.", about.record_id,
                    about.state_reason, record.size()));
  }
  const auto assumed = [&](bool missing, const std::string& what) {
    if (missing) model.warnings.push_back("the fork file gives no " + what + "; it was assumed.");
  };
  const protocol::Fork& fork = input.fork;
  assumed(!fork.lower_legs.stanchion_diameter_m, "stanchion_diameter (34 mm)");
  assumed(!fork.damper_rod_diameter_m, "damper_rod_diameter (8 mm, give or take its area)");
  assumed(!fork.lower_legs.volume_m3, "lower leg volume (estimated with a wide prior)");
  assumed(!fork.air_spring.positive_volume_m3, "positive_volume (estimated with a wide prior)");
  assumed(!fork.air_spring.negative_volume_m3, "negative_volume (estimated with a wide prior)");
  assumed(!fork.air_spring.transfer_travel_m, "transfer_travel (3 mm to start from)");
  assumed(input.any_spacers && !fork.air_spring.spacer_volume_m3,
          "spacer_volume (8 cm3 to start from)");
}

}  // namespace

Derived friction_mid_travel(const FittedModel& model) {
  using Jet = ceres::Jet<double, static_cast<int>(kLawSize)>;
  LawParameters<Jet> p;
  for (std::size_t i = 0; i < kLawSize; ++i) p[i] = Jet(model.law_values[i], static_cast<int>(i));
  const Geometry geometry = make_geometry(model.fork);
  Circumstances at;
  at.pressure_gauge_Pa = model.context.mean_pressure_gauge_Pa;
  at.temperature_K = at.pumped_temperature_K = model.context.temperature_K;
  at.ambient_Pa = at.pumped_ambient_Pa = model.context.ambient_pressure_Pa;
  at.vent = model.context.vent;
  const Chambers<Jet> chambers = make_chambers(p, geometry, 0);
  const SpringParts<Jet> parts =
      slow_spring(p, geometry, chambers, at, Jet(0.5 * geometry.travel_m));
  const Jet friction = kinetic_friction_N(p, parts.positive_Pa, at.ambient_Pa);
  return {friction.a, friction.v};
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
  const double error_N = model_error_N(run.structure, input.has_time, run.problem.size(),
                                       input.paths.size(), input.largest_force_N);
  const Uncertainty uncertainty =
      find_uncertainty(run.problem, run.sweep_list(), run.solution.values, run.structure,
                       bench_doubt(input, run.form), error_N);
  add_free(input, run, uncertainty, model);
  add_given(input, run, model);
  add_derived(input, model);
  add_fill_errors(input, run, uncertainty, model);
  decide_usable(input, run, model);
  warn_of_strain(input, run, model);
  warn_of_assumptions(input, model);
}

}  // namespace fitting
