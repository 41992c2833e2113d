#include "fitting/solve/parameter_table.hpp"

#include <ceres/jet.h>
#include <fmt/format.h>

#include <cmath>

#include "fitting/solve/determined.hpp"

namespace fitting {
namespace {

constexpr double kRelativeLimit = 0.5;  // a value less known than this is no value

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
  if (!protocol::has_air_spring(input.fork.kind)) return;
  add(kPistonDiameter, 0.0, "from the fork file");
  add(kPressureScale, input.records.front().metadata.doubt.gauge_relative,
      "the gauge's error cannot be told from the piston area and the volumes; its doubt is carried "
      "through");
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
void add_one_way_friction(bool air, FittedModel& model) {
  for (const auto& [name, unit] :
       {std::pair{"friction", "N"}, {"friction_per_bar", "N/bar"}, {"friction_mid_travel", "N"}}) {
    if (!air && std::string_view(name) == "friction_per_bar") continue;
    FittedParameter out;
    out.name = name;
    out.unit = unit;
    out.status = ParameterStatus::not_determined;
    out.reason = "a one-way curve has no return stroke to tell it from";
    model.parameters.push_back(out);
  }
}

void add_derived(const FitInput& input, FittedModel& model) {
  if (input.single_stroke) {
    return add_one_way_friction(protocol::has_air_spring(input.fork.kind), model);
  }
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

void fill_table(const FitInput& input, const LawRun& run, const Uncertainty& uncertainty,
                FittedModel& model) {
  add_free(input, run, uncertainty, model);
  add_given(input, run, model);
  add_derived(input, model);
  add_fill_errors(input, run, uncertainty, model);
}

}  // namespace fitting
