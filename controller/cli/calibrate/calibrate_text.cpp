#include "controller/cli/calibrate/calibrate_text.hpp"

#include <fmt/format.h>

#include <cmath>

#include "calibration/degree_choice.hpp"
#include "calibration/instrument.hpp"

namespace controller::cli {

using calibration::Calibration;
using calibration::Kind;
using protocol::Json;

namespace {

// Length is shown in mm, force in N.
std::string shown(const Calibration& calibration, double value) {
  return calibration.kind == Kind::force ? fmt::format("{:.4g} N", value)
                                         : fmt::format("{:.4g} mm", 1e3 * value);
}

std::string power_unit(const Calibration& calibration, size_t power) {
  const std::string_view reading = calibration::reading_unit(calibration.kind);
  const std::string_view value = calibration.kind == Kind::force ? "N" : "mm";
  if (power == 0) return std::string(value);
  const std::string_view one = reading == "counts"  ? "count"
                               : reading == "steps" ? "step"
                                                    : reading;
  return power == 1 ? fmt::format("{}/{}", value, one) : fmt::format("{}/{}^{}", value, one, power);
}

std::string coefficient_lines(const Calibration& calibration) {
  const double scale = calibration.kind == Kind::force ? 1.0 : 1e3;
  std::string text;
  for (size_t i = 0; i < calibration.coefficients.size(); ++i) {
    if (i == 0 && calibration.through_origin) continue;
    const double u = calibration.coefficient_standard_uncertainty(static_cast<int>(i));
    text += fmt::format("  c{}  {:.8g}  standard uncertainty {:.2g}  {}\n", i,
                        scale * calibration.coefficients[i], scale * u, power_unit(calibration, i));
  }
  return text;
}

std::string equation(const Calibration& calibration) {
  const std::string_view reading = calibration::reading_unit(calibration.kind);
  const std::string_view names[] = {"force", "travel", "deflection"};
  std::string text{names[static_cast<size_t>(calibration.kind)]};
  text += calibration.through_origin ? " =" : " = c0 +";
  for (int power = 1; power <= calibration.degree(); ++power) {
    const std::string_view name = calibration.kind == Kind::frame ? "force" : reading;
    text += fmt::format("{} c{} {}", power > 1 ? " +" : "", power, name);
    if (power > 1) text += fmt::format("^{}", power);
  }
  return text;
}

std::string lack_of_fit_line(const calibration::LackOfFit& lack) {
  return fmt::format("  lack of fit F({}, {}) = {:.3g}, probability {:.2g}: the curve {}\n",
                     lack.degrees_of_freedom, lack.pure_error_degrees_of_freedom, lack.F,
                     lack.probability,
                     lack.probability < calibration::kLackOfFitSignificance
                         ? "DOES NOT follow the loads to within their repeats"
                         : "follows the loads");
}

// The degrees that were tried, the chosen one marked.
std::string trial_lines(const Calibration& calibration) {
  if (calibration.degree_trials.empty()) return "";
  std::string text = "  degree  residual SD     F           probability\n";
  for (const calibration::DegreeTrial& trial : calibration.degree_trials) {
    const bool is_chosen = trial.degree == calibration.degree();
    const std::string lack =
        trial.lack_of_fit
            ? fmt::format("{:<10.4g}  {:.2g}", trial.lack_of_fit->F, trial.lack_of_fit->probability)
            : std::string("not testable");
    text += fmt::format("  {}{}       {:<14}  {}{}\n", is_chosen ? "*" : " ", trial.degree,
                        shown(calibration, trial.residual_standard_deviation), lack,
                        is_chosen ? "   chosen" : "");
  }
  return text;
}

Json trials_json(const Calibration& calibration) {
  Json json = Json::array();
  for (const calibration::DegreeTrial& trial : calibration.degree_trials) {
    Json entry = {{"degree", trial.degree},
                  {"residual_standard_deviation", trial.residual_standard_deviation},
                  {"F", nullptr},
                  {"probability", nullptr}};
    if (trial.lack_of_fit) {
      entry["F"] = trial.lack_of_fit->F;
      entry["probability"] = trial.lack_of_fit->probability;
    }
    json.push_back(entry);
  }
  return json;
}

}  // namespace

std::string calibration_text(const Calibration& calibration) {
  const calibration::Particulars& particulars = calibration.particulars;
  std::string text = fmt::format("{} calibration {}, {}", calibration::kind_name(calibration.kind),
                                 calibration.id.substr(0, 12), particulars.date);
  if (!particulars.operator_name.empty()) text += fmt::format(", by {}", particulars.operator_name);
  if (!particulars.valid_until.empty()) {
    text += fmt::format(", valid until {}", particulars.valid_until);
  }
  if (!particulars.supersedes.empty()) {
    text += fmt::format("\n  supersedes {}", particulars.supersedes.substr(0, 12));
  }
  text += fmt::format("\n  {}\n{}", equation(calibration), coefficient_lines(calibration));
  text += fmt::format("  range {} to {}, {} readings\n", shown(calibration, calibration.range_low),
                      shown(calibration, calibration.range_high), calibration.readings.size());
  const calibration::Quality& quality = calibration.quality;
  text += fmt::format("  residual standard deviation {}, {} degrees of freedom, largest {}\n",
                      shown(calibration, quality.residual_standard_deviation),
                      quality.degrees_of_freedom, shown(calibration, quality.largest_residual));
  text += trial_lines(calibration);
  if (quality.lack_of_fit) text += lack_of_fit_line(*quality.lack_of_fit);
  if (quality.hysteresis) {
    text += fmt::format("  hysteresis {}\n", shown(calibration, *quality.hysteresis));
  }
  if (calibration.kind == Kind::force) {
    const protocol::InstrumentDoubt doubt = calibration::instrument_doubt(&calibration, nullptr);
    text += fmt::format("  in doubt: gain {:.2g} %, zero {:.2g} N (standard uncertainties)\n",
                        100.0 * doubt.gain_relative, doubt.zero_N);
  }
  for (const std::string& remark : calibration.remarks) text += fmt::format("  {}\n", remark);
  return text;
}

Json calibration_json(const Calibration& calibration, const std::string& file) {
  const calibration::Quality& quality = calibration.quality;
  Json json = {{"file", file},
               {"id", calibration.id},
               {"kind", calibration::kind_name(calibration.kind)},
               {"reading_unit", calibration::reading_unit(calibration.kind)},
               {"value_unit", calibration::value_unit(calibration.kind)},
               {"coefficients", calibration.coefficients}};
  json["standard_uncertainties"] = Json::array();
  for (int power = 0; power <= calibration.degree(); ++power) {
    json["standard_uncertainties"].push_back(calibration.coefficient_standard_uncertainty(power));
  }
  json["covariance"] = calibration.covariance;
  json["range"] = {{"low", calibration.range_low}, {"high", calibration.range_high}};
  json["readings"] = calibration.readings.size();
  json["residual_standard_deviation"] = quality.residual_standard_deviation;
  json["degrees_of_freedom"] = quality.degrees_of_freedom;
  json["largest_residual"] = quality.largest_residual;
  json["hysteresis"] = quality.hysteresis ? Json(*quality.hysteresis) : Json(nullptr);
  json["degree"] = calibration.degree();
  json["degree_trials"] = trials_json(calibration);
  json["lack_of_fit"] = nullptr;
  if (quality.lack_of_fit) {
    json["lack_of_fit"] = {
        {"F", quality.lack_of_fit->F},
        {"degrees_of_freedom", quality.lack_of_fit->degrees_of_freedom},
        {"pure_error_degrees_of_freedom", quality.lack_of_fit->pure_error_degrees_of_freedom},
        {"probability", quality.lack_of_fit->probability}};
  }
  if (calibration.kind == Kind::force) {
    const protocol::InstrumentDoubt doubt = calibration::instrument_doubt(&calibration, nullptr);
    json["gain_relative_standard_uncertainty"] = doubt.gain_relative;
    json["zero_standard_uncertainty_N"] = doubt.zero_N;
  }
  if (!calibration.particulars.supersedes.empty()) {
    json["supersedes"] = calibration.particulars.supersedes;
  }
  json["remarks"] = calibration.remarks;
  return json;
}

}  // namespace controller::cli
