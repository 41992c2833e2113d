#include "fitting/solve/determined.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "fitting/solve/fork_parameters.hpp"

namespace fitting {
namespace {

constexpr double kPriorShare = 0.6;     // of an assumption's width: the data said little
constexpr double kRelativeLimit = 0.5;  // a value less known than this is no value
constexpr double kPreloadLimit_N = 40.0;
constexpr double kTransferLimit_m = 4e-3;
constexpr double kTraded = 0.9;  // correlation above which two parameters stand for each other

// How wide the data leave a parameter against what was assumed; 0 where nothing was.
double width_share(const LawRun& run, const Eigen::MatrixXd& statistical, int i) {
  const FreeParameter& free = run.map.free[static_cast<std::size_t>(i)];
  if (free.index == kNegativeThermalTime || free.index == kLowerLegThermalTime) {
    const int time = run.map.position_of(kThermalTime);
    if (time < 0) return std::sqrt(statistical(i, i)) / free.prior_standard_uncertainty;
    const double tied = statistical(i, i) + statistical(time, time) - 2.0 * statistical(i, time);
    return std::sqrt(std::max(tied, 0.0)) / kTieSpread;
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

// How a value changes over the sweeps.
bool varies(const FitInput& input, double (*of)(const protocol::Setting&), double by) {
  double low = of(input.records.front().metadata.setting);
  double high = low;
  for (const protocol::SweepRecord& record : input.records) {
    low = std::min(low, of(record.metadata.setting));
    high = std::max(high, of(record.metadata.setting));
  }
  return high - low > by;
}

// What the sweeps share that keeps parameters together: "one pressure and one spacer count".
std::string held_alike(const FitInput& input) {
  constexpr double kSamePressure_Pa = 5e3;
  std::string out;
  const auto add = [&](const char* word) {
    out += (out.empty() ? "one " : " and one ") + std::string(word);
  };
  const bool air = protocol::has_air_spring(input.fork.kind);
  if (air && !varies(
                 input, [](const protocol::Setting& at) { return at.pressure_gauge_Pa; },
                 kSamePressure_Pa)) {
    add("pressure");
  }
  if (air && !varies(
                 input, [](const protocol::Setting& at) { return double(at.spacers); }, 0.5)) {
    add("spacer count");
  }
  if (out.empty() && input.has_time && !input.tells_speeds()) add("speed");
  return out;
}

std::string words(std::string_view name) {
  std::string out(name);
  std::replace(out.begin(), out.end(), '_', ' ');
  return out;
}

struct Partner {
  std::string name;
  double correlation = 0.0;
};

// The parameter that this one is most easily exchanged for.
Partner partner_of(const LawRun& run, const Eigen::MatrixXd& statistical, int i) {
  Partner out;
  for (int j = 0; j < run.map.size(); ++j) {
    if (j == i) continue;
    const double correlation = statistical(i, j) / std::sqrt(statistical(i, i) * statistical(j, j));
    if (std::abs(correlation) <= std::abs(out.correlation)) continue;
    const bool shared = j < run.map.shared_size();
    const auto at = static_cast<std::size_t>(j);
    out = {shared ? words(kLawParameters[run.map.free[at].index].name) : "a fill's error",
           correlation};
  }
  return out;
}

std::string cannot_tell(const FitInput& input, const LawRun& run,
                        const Eigen::MatrixXd& statistical, int i) {
  const std::string alike = held_alike(input);
  const Partner partner = partner_of(run, statistical, i);
  const bool traded = std::abs(partner.correlation) > kTraded;
  const std::string subject = alike.empty() ? "the sweeps" : alike;
  std::string out = traded ? fmt::format("{} cannot tell it from the {} (correlation {:.3f})",
                                         subject, partner.name, partner.correlation)
                           : fmt::format("{} leave{} it as wide as it was assumed", subject,
                                         alike.empty() ? "" : "s");
  if (!alike.empty()) out += "; a sweep at another would";
  return out;
}

}  // namespace

bool is_secondary(LawIndex index) {
  return index == kTransferBand || index == kNegativeThermalTime || index == kLowerLegThermalTime ||
         index == kLowerLegExponent || index == kPreslidingTravel;
}

bool is_friction(LawIndex index) {
  return index == kFriction || index == kFrictionPerPressure;
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
    out.reason = is_secondary(index) ? "assumed: the sweeps do not tell it"
                                     : cannot_tell(input, run, statistical, i);
    return;
  }
  if (too_wide(index, out.value * unit_SI, out.standard_uncertainty * unit_SI)) {
    out.status = is_secondary(index) ? ParameterStatus::given : ParameterStatus::not_determined;
    out.reason =
        fmt::format("its uncertainty of {:.2g} {} is too large for a value to mean anything: {}",
                    out.standard_uncertainty, out.unit,
                    is_secondary(index) ? "the others hardly depend on it"
                                        : cannot_tell(input, run, statistical, i));
  }
}

}  // namespace fitting
