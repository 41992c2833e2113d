// A rig, real or virtual, with a press on it, for calibrating; and for a virtual one the hands that
// change what stands in the press.
#pragma once

#include <functional>
#include <memory>
#include <vector>

#include "calibration/guided/stability.hpp"
#include "controller/cli/bench/bench_setup.hpp"
#include "controller/cli/bench/rig_connection.hpp"

namespace controller::cli {

// Room for every load and place of a calibration.
inline constexpr host::PressLimits kCalibrationLimits{-100.0, 2300.0, -0.010, 0.200};

inline constexpr double kCalibrationSettle_s = 2.0;  // after a load was changed
inline constexpr double kCalibrationWindow_s = 1.0;  // read at each load
inline constexpr double kCalibrationSpeed_m_s = 0.005;
inline constexpr double kCalibrationTouchSpeed_m_s = 0.0005;
inline constexpr double kCalibrationTouchWay_m = 0.03;
inline constexpr double kBlockContact_N = 20.0;  // a frame's force and deflection count from here

// What a window of the load cell is of.
double counts_of(const host::TimedSample& sample);

class CalibrationRig {
 public:
  // Connects and prepares; nothing moves. `stop` must outlive the rig. ERRORS: of the port, the
  // session, the limits.
  static protocol::Result<std::unique_ptr<CalibrationRig>> open(
      const BenchSetup& setup, host::StopSource& stop,
      const host::PressLimits& limits = kCalibrationLimits);

  host::Press& press() { return *press_; }
  bool is_virtual() const { return connection_.is_virtual(); }

  // REQUIRES: a virtual rig.
  void with_rig(const std::function<void(virtual_rig::VirtualRig&)>& action) {
    connection_.with_virtual_rig(action);
  }
  // By its weight in standard gravity.
  void hang_N(double force_N);

  // Every sample within a time at rest, as what `reading` makes of it.
  protocol::Result<std::vector<calibration::WindowSample>> window(
      double duration_s, const std::function<double(const host::TimedSample&)>& reading);
  // Of what the cell says once the load has settled.
  protocol::Result<double> mean_counts();

 private:
  explicit CalibrationRig(RigConnection connection) : connection_(std::move(connection)) {}

  // Destroyed from the end: the press before its session.
  RigConnection connection_;
  std::unique_ptr<host::Press> press_;
};

}  // namespace controller::cli
