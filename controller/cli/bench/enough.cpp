#include "controller/cli/bench/enough.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "protocol/units.hpp"

namespace controller::cli {

using fitting::FittedModel;
using fitting::FittedParameter;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

constexpr std::string_view kPercent = "%";

struct KnownQuantity {
  std::string_view name;
  std::string_view unit;
};

// What the fit of one sweep with a clock can find out. The damper takes a sweep of several speeds.
std::vector<KnownQuantity> known_quantities() {
  std::vector<KnownQuantity> out;
  for (fitting::LawIndex index :
       {fitting::kPositiveVolume, fitting::kNegativeVolume, fitting::kLowerLegVolume,
        fitting::kPreload, fitting::kFriction, fitting::kFrictionPerPressure,
        fitting::kPreslidingTravel, fitting::kTransferTravel, fitting::kThermalTime,
        fitting::kDamperCompression, fitting::kDamperRebound, fitting::kCoilRate,
        fitting::kAddedRate, fitting::kTopOutRate}) {
    out.push_back({fitting::kLawParameters[index].name, fitting::kLawParameters[index].unit});
  }
  out.push_back({"friction_mid_travel", "N"});
  return out;
}

Error refusal(const std::string& what) {
  std::string list;
  for (const KnownQuantity& each : known_quantities()) {
    list += fmt::format("{}{} ({})", list.empty() ? "" : ", ", each.name, each.unit);
  }
  return {Errc::usage, fmt::format("--until: {}; say it such as \"positive_volume 5 %\" or "
                                   "\"friction_mid_travel 2 N\". There are: {}.",
                                   what, list)};
}

// Where the number ends that a text begins with: "1 %" and "1%" are the same.
std::size_t number_end(std::string_view text) {
  const std::size_t end = text.find_first_not_of("0123456789.eE+-");
  return end == std::string_view::npos ? text.size() : end;
}

// An uncertainty of the parameter, in the unit that was asked for.
double as_asked(const Enough& enough, const FittedParameter& parameter, double uncertainty) {
  return enough.unit == kPercent ? 100.0 * uncertainty / std::abs(parameter.value) : uncertainty;
}

double doubt(const Enough& enough, const FittedParameter& parameter) {
  return as_asked(enough, parameter, parameter.standard_uncertainty);
}

// What would be left of the doubt if the noise of the rows were averaged away.
double lasting_doubt(const Enough& enough, const FittedParameter& parameter) {
  const double total = parameter.standard_uncertainty;
  const double statistical = std::min(total, parameter.statistical_uncertainty);
  return as_asked(enough, parameter, std::sqrt(total * total - statistical * statistical));
}

}  // namespace

Result<Enough> parse_enough(const std::string& text) {
  const std::string_view whole = protocol::trimmed(text);
  const std::size_t name_end = std::min(whole.find_first_of(" \t"), whole.size());
  const std::string_view rest = protocol::trimmed(whole.substr(name_end));
  const std::string_view number = rest.substr(0, number_end(rest));
  const std::string_view unit = protocol::trimmed(rest.substr(number.size()));
  const std::string_view name = whole.substr(0, name_end);

  const std::vector<KnownQuantity> known = known_quantities();
  const auto found = std::find_if(known.begin(), known.end(),
                                  [&](const KnownQuantity& each) { return each.name == name; });
  if (found == known.end()) return refusal(fmt::format("a fit has no '{}'", name));
  const Result<double> value = protocol::parse_number(number);
  if (!value || !(*value > 0.0) || !std::isfinite(*value)) {
    return refusal(
        fmt::format("'{}' does not say how small the uncertainty of {} has to be: a "
                    "number above zero, and its unit",
                    rest, name));
  }
  if (unit != kPercent && unit != found->unit) {
    return refusal(fmt::format("{} is in {} or %, not '{}'", name, found->unit, unit));
  }
  return Enough{std::string(name), *value, std::string(unit)};
}

const FittedParameter* told(const FittedModel& model, std::string_view name) {
  if (!model.usable) return nullptr;
  const auto found = std::find_if(model.parameters.begin(), model.parameters.end(),
                                  [&](const FittedParameter& each) { return each.name == name; });
  const bool is_told =
      found != model.parameters.end() && found->status == fitting::ParameterStatus::fitted;
  return is_told ? &*found : nullptr;
}

bool is_reached(const Enough& enough, const FittedModel& model) {
  const FittedParameter* parameter = told(model, enough.name);
  return parameter != nullptr && doubt(enough, *parameter) <= enough.value;
}

std::string how_well_known(const Enough& enough, const FittedModel& model) {
  const FittedParameter* parameter = told(model, enough.name);
  if (parameter == nullptr) {
    return fmt::format("{} is not known yet; wanted: to {:g} {}.", enough.name, enough.value,
                       enough.unit);
  }
  std::string out = fmt::format("{} is known to {:.2g} {}; wanted: {:g} {}.", enough.name,
                                doubt(enough, *parameter), enough.unit, enough.value, enough.unit);
  const double lasting = lasting_doubt(enough, *parameter);
  if (lasting > enough.value) {
    out += fmt::format(
        " More cycles do not help: {:.2g} {} come of load cell, gauge, travel zero and the model, "
        "not of noise. A calibration or a sweep with another setting does; "
        "\"springwright advise\" says which.",
        lasting, enough.unit);
  }
  return out;
}

}  // namespace controller::cli
