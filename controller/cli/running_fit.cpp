#include "controller/cli/running_fit.hpp"

#include <fmt/ostream.h>

#include <algorithm>
#include <array>

#include "fitting/solve/fork_fit.hpp"
#include "protocol/units.hpp"

namespace controller::cli {

using fitting::FittedModel;
using fitting::FittedParameter;
using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

constexpr std::array<std::string_view, 2> kShown = {"positive_volume", "friction_mid_travel"};

// What a fit of a sweep with a clock may name, with its unit.
struct Known {
  std::string_view name;
  std::string_view unit;
};
std::vector<Known> known_quantities() {
  std::vector<Known> out;
  for (fitting::LawIndex index :
       {fitting::kPositiveVolume, fitting::kNegativeVolume, fitting::kLowerLegVolume,
        fitting::kPreload, fitting::kFriction, fitting::kFrictionPerPressure,
        fitting::kPreslidingTravel, fitting::kTransferTravel, fitting::kThermalTime}) {
    out.push_back({fitting::kLawParameters[index].name, fitting::kLawParameters[index].unit});
  }
  out.push_back({"friction_mid_travel", "N"});
  return out;
}

// Few starts: the fit must be over before the next stroke is, and there are many strokes.
fitting::FitOptions quick_fit() {
  fitting::FitOptions out;
  out.threads = 1;
  out.candidates = 16;
  out.starts = 3;
  return out;
}

const FittedParameter* find(const FittedModel& model, std::string_view name) {
  const auto found = std::find_if(model.parameters.begin(), model.parameters.end(),
                                  [&](const FittedParameter& each) { return each.name == name; });
  const bool told =
      found != model.parameters.end() && found->status == fitting::ParameterStatus::fitted;
  return told ? &*found : nullptr;
}

}  // namespace

Result<Enough> parse_enough(const std::string& text) {
  const auto space = text.find_last_of(' ');
  const auto first = text.find(' ');
  std::string list;
  for (const Known& known : known_quantities()) {
    list += fmt::format("{}{} ({})", list.empty() ? "" : ", ", known.name, known.unit);
  }
  const auto refuse = [&](const std::string& what) {
    return Error{Errc::usage, fmt::format("--until: {}; say it such as \"positive_volume 1 %\" or "
                                          "\"friction_mid_travel 0.5 N\". There are: {}.",
                                          what, list)};
  };
  if (first == std::string::npos || first == space) {
    return refuse(fmt::format("'{}' is not a name, a value and a unit", text));
  }
  Enough out{text.substr(0, first), 0.0, text.substr(space + 1)};
  const Result<double> value =
      protocol::parse_number(protocol::trimmed(text.substr(first, space - first)));
  if (!value || !(*value > 0.0)) return refuse(fmt::format("'{}' has no value above zero", text));
  out.value = *value;
  for (const Known& known : known_quantities()) {
    if (known.name != out.name) continue;
    if (out.unit == "%" || out.unit == known.unit) return out;
    return refuse(fmt::format("{} is in {} or %, not '{}'", out.name, known.unit, out.unit));
  }
  return refuse(fmt::format("there is no '{}'", out.name));
}

RunningFit::RunningFit(const protocol::Metadata& about, int planned_strokes,
                       std::optional<Enough> enough, Console& console)
    : planned_strokes_(planned_strokes), wanted_(std::move(enough)), console_(console) {
  record_.metadata = about;
  worker_ = std::thread([this] { work(); });
}

RunningFit::~RunningFit() {
  {
    const std::lock_guard lock(mutex_);
    over_ = true;
  }
  changed_.notify_all();
  worker_.join();
}

void RunningFit::row(const protocol::RecordRow& row) {
  record_.time_s.push_back(row.time_s);
  record_.stroke.push_back(row.stroke);
  record_.travel_m.push_back(row.travel_m);
  record_.force_N.push_back(row.force_N);
}

void RunningFit::stroke_done(const host::StrokeEnd& end) {
  // One way alone shows no friction.
  if (end.stroke < 1) return;
  {
    const std::lock_guard lock(mutex_);
    waiting_ = record_;
    waiting_stroke_ = end.stroke;
  }
  changed_.notify_all();
}

bool RunningFit::enough(int) {
  const std::lock_guard lock(mutex_);
  return reached_;
}

void RunningFit::work() {
  for (;;) {
    std::optional<protocol::SweepRecord> record;
    int stroke = 0;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return over_ || waiting_.has_value(); });
      if (over_) return;
      record = std::exchange(waiting_, std::nullopt);
      stroke = waiting_stroke_;
    }
    const Result<FittedModel> model = fitting::fit_fork({*record}, quick_fit());
    if (!model) continue;
    tell(*model, stroke);
    const std::lock_guard lock(mutex_);
    reached_ = reached_ || reached(*model);
  }
}

void RunningFit::tell(const FittedModel& model, int stroke) {
  std::string words;
  for (std::string_view name : kShown) {
    const FittedParameter* parameter = model.usable ? find(model, name) : nullptr;
    if (parameter == nullptr) continue;
    std::string shown(name);
    std::replace(shown.begin(), shown.end(), '_', ' ');
    words += fmt::format("{}{} {:.4g} +- {:.2g} {}", words.empty() ? "" : ", ", shown,
                         parameter->value, parameter->standard_uncertainty, parameter->unit);
  }
  fmt::print(console_.err, "stroke {} of {}: {}\n", stroke + 1, planned_strokes_,
             words.empty() ? "nothing can be told yet" : words);
}

bool RunningFit::reached(const FittedModel& model) const {
  if (!wanted_ || !model.usable) return false;
  const FittedParameter* parameter = find(model, wanted_->name);
  if (parameter == nullptr) return false;
  const double limit =
      wanted_->unit == "%" ? 0.01 * wanted_->value * std::abs(parameter->value) : wanted_->value;
  return parameter->standard_uncertainty <= limit;
}

}  // namespace controller::cli
