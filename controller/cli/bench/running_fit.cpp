#include "controller/cli/bench/running_fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

#include "fitting/solve/fork_fit.hpp"

namespace controller::cli {

using fitting::FittedModel;
using fitting::FittedParameter;

namespace {

constexpr std::array<std::string_view, 3> kShown = {"positive_volume", "coil_rate",
                                                    "friction_mid_travel"};

// Few starts and one thread: the fit must be over before the next stroke is, and leave the rest of
// the computer to the rig.
fitting::FitOptions quick_fit() {
  fitting::FitOptions out;
  out.threads = 1;
  out.candidates = 16;
  out.starts = 3;
  return out;
}

// "positive volume 214.3 +- 1.9 cm3, friction mid travel 12.1 +- 0.4 N"
std::string what_is_known(const FittedModel& model, const std::optional<Enough>& enough) {
  std::vector<std::string_view> names(kShown.begin(), kShown.end());
  if (enough && std::find(names.begin(), names.end(), enough->name) == names.end()) {
    names.push_back(enough->name);
  }
  std::string words;
  for (std::string_view name : names) {
    const FittedParameter* parameter = told(model, name);
    if (parameter == nullptr) continue;
    std::string spoken(name);
    std::replace(spoken.begin(), spoken.end(), '_', ' ');
    words += fmt::format("{}{} {:.4g} +- {:.2g} {}", words.empty() ? "" : ", ", spoken,
                         parameter->value, parameter->standard_uncertainty, parameter->unit);
  }
  return words.empty() ? "nothing can be told yet" : words;
}

}  // namespace

RunningFit::RunningFit(const protocol::Metadata& about, RunningFitPlan plan,
                       std::function<void(const std::string&)> tell)
    : plan_(std::move(plan)), tell_(std::move(tell)) {
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

// --- In the thread that calls -------------------------------------------------------------------

void RunningFit::row(const protocol::RecordRow& row) {
  record_.time_s.push_back(row.time_s);
  record_.stroke.push_back(row.stroke);
  record_.travel_m.push_back(row.travel_m);
  record_.force_N.push_back(row.force_N);
  pass_on();
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
  if (plan_.enough && plan_.waits_for_fit) wait_for_fit();
  pass_on();
  return reached_;
}

std::string RunningFit::why() const {
  return how_well_;
}

void RunningFit::finish() {
  wait_for_fit();
  pass_on();
  if (plan_.enough && !reached_ && !how_well_.empty()) tell_(how_well_);
}

void RunningFit::wait_for_fit() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return !busy_ && !waiting_; });
}

void RunningFit::pass_on() {
  if (!has_news_.load(std::memory_order_relaxed)) return;
  std::vector<Told> news;
  {
    const std::lock_guard lock(mutex_);
    news = std::exchange(news_, {});
    has_news_ = false;
  }
  for (const Told& each : news) {
    tell_(each.line);
    reached_ = each.reached;
    how_well_ = each.how_well;
  }
}

// --- In the fit's own ---------------------------------------------------------------------------

void RunningFit::work() {
  for (;;) {
    protocol::SweepRecord record;
    int stroke = 0;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return over_ || waiting_.has_value(); });
      if (over_) return;
      record = *std::exchange(waiting_, std::nullopt);
      stroke = waiting_stroke_;
      busy_ = true;
    }
    Told news = fit(record, stroke);
    {
      const std::lock_guard lock(mutex_);
      news_.push_back(std::move(news));
      has_news_ = true;
      busy_ = false;
    }
    changed_.notify_all();
  }
}

RunningFit::Told RunningFit::fit(const protocol::SweepRecord& record, int stroke) const {
  // A record that cannot be fitted yet tells what a model that is not usable does.
  const protocol::Result<FittedModel> fitted = fitting::fit_fork({record}, quick_fit());
  const FittedModel model = fitted ? *fitted : FittedModel{};
  Told out;
  out.line = fmt::format("stroke {} of {}: {}", stroke + 1, plan_.strokes,
                         what_is_known(model, plan_.enough));
  if (plan_.enough) {
    out.reached = is_reached(*plan_.enough, model);
    out.how_well = how_well_known(*plan_.enough, model);
  }
  return out;
}

}  // namespace controller::cli
