#include "fitting/model/predict.hpp"

#include <ceres/jet.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fitting/model/prediction_request.hpp"
#include "fitting/model/settled_cycle.hpp"

namespace fitting {
namespace {

using Jet = ceres::Jet<double, static_cast<int>(kLawSize)>;

// Standard uncertainty of a force beyond the calibrated range, of what exceeds it.
constexpr double kBeyondCalibration = 0.002;
// The same beyond the swept travel, of what the force changes there.
constexpr double kBeyondSweep = 0.02;
constexpr double kSameTravel_m = 1e-6;

LawParameters<Jet> make_jets(const FittedModel& model) {
  LawParameters<Jet> p;
  for (std::size_t i = 0; i < kLawSize; ++i) p[i] = Jet(model.law_values[i], static_cast<int>(i));
  return p;
}

Cycle<Jet> cycle_of(const FittedModel& model, const LawParameters<Jet>& jets,
                    const Circumstances& at, const std::vector<double>& travel_m,
                    double speed_m_s) {
  const Geometry geometry = make_geometry(model.fork);
  if (model.law == GasLaw::exponent) {
    return settled_cycle(ExponentLaw<Jet>(jets, geometry, at), travel_m);
  }
  const HeatLaw<double> plain(model.law, model.law_values, geometry, at, model.reference);
  const int cycles = cycles_to_settle(plain, travel_m, speed_m_s);
  return settled_cycle(HeatLaw<Jet>(model.law, jets, geometry, at, model.reference), cycles,
                       travel_m, speed_m_s);
}

// Force gradients on the grid (M x kLawSize), by the law's parameters in SI.
using Gradients = Eigen::MatrixXd;

// Columns of the free parameters in their printed units (M x P).
Eigen::MatrixXd free_columns(const FittedModel& model, const Gradients& gradients) {
  Eigen::MatrixXd out(gradients.rows(), static_cast<Eigen::Index>(model.free.size()));
  for (std::size_t i = 0; i < model.free.size(); ++i) {
    out.col(static_cast<Eigen::Index>(i)) =
        gradients.col(static_cast<Eigen::Index>(model.free[i])) *
        kLawParameters[model.free[i]].unit_SI;
  }
  return out;
}

// Standard uncertainty where nothing was swept, by what the force has changed since.
Eigen::VectorXd beyond_sweep_N(const FittedModel& model, const std::vector<double>& travel_m,
                               const std::vector<double>& force_N) {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(force_N.size()));
  double last_N = force_N.front();
  for (std::size_t i = 0; i < force_N.size(); ++i) {
    if (travel_m[i] <= model.context.swept_travel_m + kSameTravel_m) last_N = force_N[i];
    out(static_cast<Eigen::Index>(i)) = kBeyondSweep * std::abs(force_N[i] - last_N);
  }
  return out;
}

Eigen::MatrixXd own_covariance(const FittedModel& model, const Gradients& gradients,
                               const std::vector<double>& travel_m,
                               const std::vector<double>& force_N) {
  const Eigen::MatrixXd free = free_columns(model, gradients);
  Eigen::MatrixXd out = free * model.own_covariance * free.transpose();
  // This fill is read off the gauge anew.
  const Eigen::VectorXd reading = gradients.col(kFillError) * model.context.gauge_reading_Pa;
  out += reading * reading.transpose();
  const Eigen::VectorXd unswept_N = beyond_sweep_N(model, travel_m, force_N);
  out += unswept_N * unswept_N.transpose();
  if (model.context.calibrated_force_N > 0.0) {
    Eigen::VectorXd beyond(out.rows());
    for (Eigen::Index i = 0; i < out.rows(); ++i) {
      const double excess_N =
          force_N[static_cast<std::size_t>(i)] - model.context.calibrated_force_N;
      beyond(i) = kBeyondCalibration * std::max(0.0, excess_N);
    }
    out += beyond * beyond.transpose();
  }
  return out;
}

// Move of the curve for one standard uncertainty of a doubt: through the parameters, and by itself
// where the same error acts in the prediction too.
Eigen::VectorXd curve_shift(const FittedModel& model, const SharedDoubt& doubt,
                            const Gradients& gradients) {
  Eigen::VectorXd out = free_columns(model, gradients) * doubt.shift;
  // The same gauge reads this fill, and the same rod stands in the fork.
  if (doubt.name == "pressure_gauge")
    out += gradients.col(kPressureScale) * doubt.standard_uncertainty;
  if (doubt.name == "damper_rod_area")
    out += gradients.col(kDamperRodArea) * doubt.standard_uncertainty;
  if (doubt.name == "damper_gas") out += gradients.col(kDamperGas) * doubt.standard_uncertainty;
  return out;
}

std::vector<double> total_uncertainty(const Eigen::MatrixXd& own,
                                      const std::vector<Eigen::VectorXd>& shifts) {
  Eigen::VectorXd variance = own.diagonal();
  for (const Eigen::VectorXd& shift : shifts) variance += shift.cwiseAbs2();
  std::vector<double> out;
  for (Eigen::Index i = 0; i < variance.size(); ++i)
    out.push_back(std::sqrt(std::max(0.0, variance(i))));
  return out;
}

void add_spring(const FittedModel& model, const LawParameters<Jet>& jets, const Circumstances& at,
                Prediction& out, Gradients& gradients) {
  const Geometry geometry = make_geometry(model.fork);
  const Chambers<Jet> chambers = make_chambers(jets, geometry, at.spacers);
  using Element = std::pair<const char*, Jet SpringParts<Jet>::*>;
  std::vector<Element> elements;
  if (geometry.has_piston) {
    elements.push_back({"positive chamber", &SpringParts<Jet>::positive_N});
    elements.push_back({"negative chamber", &SpringParts<Jet>::negative_N});
  } else {
    elements.push_back({"coil", &SpringParts<Jet>::coil_N});
    elements.push_back({"top-out spring", &SpringParts<Jet>::top_out_N});
  }
  if (geometry.has_lower_legs) elements.push_back({"lower legs", &SpringParts<Jet>::lower_N});
  elements.push_back({"preload", &SpringParts<Jet>::preload_N});
  elements.push_back({"bumper", &SpringParts<Jet>::bumper_N});
  for (const Element& element : elements) out.elements.push_back({element.first, {}});
  for (std::size_t i = 0; i < out.travel_m.size(); ++i) {
    const SpringParts<Jet> parts = slow_spring(jets, geometry, chambers, at, Jet(out.travel_m[i]));
    const Jet total = parts.total_N();
    gradients.row(static_cast<Eigen::Index>(i)) = total.v.transpose();
    out.friction_N.push_back(kinetic_friction_N(jets, parts.positive_Pa, at.ambient_Pa).a);
    double sum_N = 0.0;
    for (std::size_t k = 0; k < out.elements.size(); ++k) {
      const double force_N = (parts.*elements[k].second).a;
      out.elements[k].force_N.push_back(force_N);
      sum_N += force_N;
    }
    out.spring_N.push_back(sum_N);
  }
}

void add_cycle(const FittedModel& model, const LawParameters<Jet>& jets, const Circumstances& at,
               double speed_m_s, double largest_m, Prediction& out, Gradients& gradients) {
  // The cycle turns at the largest travel itself, on the grid or not.
  std::vector<double> travel_m = out.travel_m;
  if (largest_m - travel_m.back() > 1e-9) travel_m.push_back(largest_m);
  const Cycle<Jet> cycle = cycle_of(model, jets, at, travel_m, speed_m_s);
  for (std::size_t i = 0; i < out.travel_m.size(); ++i) {
    const Jet mid = 0.5 * (cycle.compression_N[i] + cycle.rebound_N[i]);
    gradients.row(static_cast<Eigen::Index>(i)) = mid.v.transpose();
    out.compression_N.push_back(cycle.compression_N[i].a);
    out.rebound_N.push_back(cycle.rebound_N[i].a);
    out.midline_N.push_back(mid.a);
  }
}

void add_uncertainty(const FittedModel& model, const Gradients& spring, const Gradients& midline,
                     Prediction& out) {
  out.own_spring_covariance = own_covariance(model, spring, out.travel_m, out.spring_N);
  out.own_midline_covariance = own_covariance(model, midline, out.travel_m, out.midline_N);
  std::vector<Eigen::VectorXd> spring_shifts;
  std::vector<Eigen::VectorXd> midline_shifts;
  for (const SharedDoubt& doubt : model.shared) {
    const Eigen::VectorXd spring_shift = curve_shift(model, doubt, spring);
    const Eigen::VectorXd midline_shift = curve_shift(model, doubt, midline);
    if (doubt.across_forks) {
      out.shared.push_back({doubt.name, spring_shift, midline_shift});
      spring_shifts.push_back(spring_shift);
      midline_shifts.push_back(midline_shift);
    } else {
      out.own_spring_covariance += spring_shift * spring_shift.transpose();
      out.own_midline_covariance += midline_shift * midline_shift.transpose();
    }
  }
  out.spring_standard_uncertainty_N = total_uncertainty(out.own_spring_covariance, spring_shifts);
  out.midline_standard_uncertainty_N =
      total_uncertainty(out.own_midline_covariance, midline_shifts);
}

void warn(const FittedModel& model, const PredictionRequest& request, Prediction& out) {
  const FitContext& context = model.context;
  if (out.travel_m.back() > context.swept_travel_m + kSameTravel_m) {
    const bool bumper = model.law_values[kBumperForce] > 0.0;
    out.warnings.push_back(fmt::format(
        "beyond {:.1f} mm nothing was swept: there the curve rests on the model "
        "alone{}, and the uncertainty is widened by {:.0f} % of the force's change.",
        1e3 * context.swept_travel_m, bumper ? "" : ", without the bumper", 100.0 * kBeyondSweep));
  }
  const double largest_N = *std::max_element(out.spring_N.begin(), out.spring_N.end());
  if (context.calibrated_force_N > 0.0 && largest_N > context.calibrated_force_N) {
    out.warnings.push_back(
        fmt::format("above {:.0f} N the load cell was not calibrated: the uncertainty is widened "
                    "by {:.1f} % of the excess.",
                    context.calibrated_force_N, 100.0 * kBeyondCalibration));
  }
  const double ratio =
      context.mean_speed_m_s > 0.0 ? request.speed_m_s / context.mean_speed_m_s : 1.0;
  if (model.law == GasLaw::exponent) {
    out.warnings.push_back(
        "fitted without a clock: the strokes hold for the swept speed only, whatever "
        "speed is asked for.");
  } else if (ratio > 3.0 || ratio < 1.0 / 3.0) {
    out.warnings.push_back(fmt::format("the sweeps ran at {:.1f} mm/s; {:.1f} mm/s is far from it.",
                                       1e3 * context.mean_speed_m_s, 1e3 * request.speed_m_s));
  }
}

}  // namespace

protocol::Result<Prediction> predict(const FittedModel& model, const PredictionRequest& request) {
  const double largest_m = largest_travel_m(model, request);
  if (const auto checked = check_request(model, request, largest_m); !checked)
    return checked.error();
  const Circumstances at = make_circumstances(request);
  const LawParameters<Jet> jets = make_jets(model);
  Prediction out;
  out.travel_m = make_grid(request.step_m, largest_m);
  const auto size = static_cast<Eigen::Index>(out.travel_m.size());
  Gradients spring(size, static_cast<Eigen::Index>(kLawSize));
  Gradients midline = spring;
  add_spring(model, jets, at, out, spring);

  add_cycle(model, jets, at, request.speed_m_s, largest_m, out, midline);
  add_uncertainty(model, spring, midline, out);
  warn(model, request, out);
  return out;
}

protocol::Result<std::vector<double>> slow_spring_N(const FittedModel& model,
                                                    const PredictionRequest& request,
                                                    const std::vector<double>& travel_m) {
  ENSURE(!travel_m.empty());
  const double largest_m = std::max(travel_m.back(), request.step_m);
  if (const auto checked = check_request(model, request, largest_m); !checked) {
    return checked.error();
  }
  const Circumstances at = make_circumstances(request);
  const Geometry geometry = make_geometry(model.fork);
  const Chambers<double> chambers = make_chambers(model.law_values, geometry, at.spacers);
  std::vector<double> out;
  for (double x_m : travel_m) {
    out.push_back(slow_spring(model.law_values, geometry, chambers, at, x_m).total_N());
  }
  return out;
}

}  // namespace fitting
