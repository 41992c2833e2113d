// How far a sweep is, and how long it will take: never promised before it is known, never done
// before it is.
#pragma once

#include <optional>
#include <string>

#include "controller/host/link.hpp"

namespace controller::host {

struct Progress {
  std::string phase;             // "measuring, cycle 2 of 3"
  double fraction = 0.0;         // at most 0.99 until the end
  std::optional<double> left_s;  // empty: still estimating
};

class ProgressSink {
 public:
  virtual ~ProgressSink() = default;
  virtual void show(const Progress& progress) = 0;
};

// Compares the rig's clock with a plan, and with the host's clock: a rig may run in accelerated
// time.
class ProgressMeter {
 public:
  // Null: nobody looks.
  explicit ProgressMeter(ProgressSink* sink) : sink_(sink) {}

  // The plan begins: so much of the rig's time from now.
  void begin(double planned_s, int64_t device_time_us, HostTime now);
  void enter(const std::string& phase) { phase_ = phase; }
  // Shows at most ten times a second.
  void update(int64_t device_time_us, HostTime now);
  void finish();

 private:
  Progress progress(int64_t device_time_us, HostTime now) const;

  ProgressSink* sink_;
  std::string phase_;
  double planned_s_ = 0.0;
  int64_t begun_us_ = 0;
  HostTime begun_{0};
  std::optional<HostTime> shown_;
};

}  // namespace controller::host
