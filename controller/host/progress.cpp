#include "controller/host/progress.hpp"

#include <algorithm>

namespace controller::host {
namespace {

constexpr double kFractionMax = 0.99;
// Before this much of the plan has passed, or this long, an estimate would only jump about.
constexpr double kEstimateFrom = 0.02;
constexpr double kEstimateFrom_s = 1.0;
constexpr std::chrono::milliseconds kShowEvery{100};

}  // namespace

void ProgressMeter::begin(double planned_s, int64_t device_time_us, HostTime now) {
  planned_s_ = planned_s;
  begun_us_ = device_time_us;
  begun_ = now;
}

Progress ProgressMeter::progress(int64_t device_time_us, HostTime now) const {
  Progress progress;
  progress.phase = phase_;
  if (planned_s_ <= 0.0) return progress;
  const double passed_s = static_cast<double>(device_time_us - begun_us_) / 1e6;
  const double host_s = std::chrono::duration<double>(now - begun_).count();
  progress.fraction = std::clamp(passed_s / planned_s_, 0.0, kFractionMax);
  if (progress.fraction >= kEstimateFrom && host_s >= kEstimateFrom_s) {
    progress.left_s = std::max(0.0, planned_s_ - passed_s) * host_s / passed_s;
  }
  return progress;
}

void ProgressMeter::update(int64_t device_time_us, HostTime now) {
  if (!sink_ || (shown_ && now - *shown_ < kShowEvery)) return;
  shown_ = now;
  sink_->show(progress(device_time_us, now));
}

void ProgressMeter::finish() {
  if (sink_) sink_->show({"done", 1.0, 0.0});
}

}  // namespace controller::host
