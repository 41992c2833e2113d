#include "controller/cli/calibrate/practice_readings.hpp"

#include <fmt/format.h>

#include <cmath>
#include <vector>

#include "controller/cli/calibrate/approach.hpp"
#include "controller/cli/calibrate/calibration_rig.hpp"

namespace controller::cli {
namespace {

using protocol::Result;

// 0, step, ... , largest, ... , step, 0.
std::vector<double> up_and_down(double step, int steps) {
  std::vector<double> out;
  for (int i = 0; i <= steps; ++i) out.push_back(step * i);
  for (int i = steps - 1; i >= 0; --i) out.push_back(step * i);
  return out;
}

calibration::Direction way_of(std::size_t index, std::size_t size) {
  return index <= size / 2 ? calibration::Direction::ascending : calibration::Direction::descending;
}

}  // namespace

Result<std::string> practise_force(const BenchSetup& setup) {
  host::StopFlag stop;
  const auto rig = CalibrationRig::open(setup, stop);
  if (!rig) return rig.error();
  std::string csv = "force_N,counts,series,direction\n";
  const std::vector<double> loads_N = up_and_down(250.0, 8);
  for (int series = 1; series <= 3; ++series) {
    for (std::size_t i = 0; i < loads_N.size(); ++i) {
      (*rig)->hang_N(loads_N[i]);
      const Result<double> counts = (*rig)->mean_counts();
      if (!counts) return counts.error();
      csv += fmt::format("{},{:.1f},{},{}\n", loads_N[i], *counts, series,
                         calibration::direction_name(way_of(i, loads_N.size())));
    }
  }
  return csv;
}

Result<std::string> practise_travel(const BenchSetup& setup) {
  host::StopFlag stop;
  const auto rig = CalibrationRig::open(setup, stop);
  if (!rig) return rig.error();
  host::Press& press = (*rig)->press();
  (*rig)->with_rig([](virtual_rig::VirtualRig& virtual_rig) {
    virtual_rig.set_fixture(virtual_rig::Fixture::nothing);
  });
  const Result<int32_t> home = press.home();
  if (!home) return home.error();
  std::string csv = "travel_mm,steps,series,direction\n";
  double dial_zero_m = 0.0;
  const std::vector<double> places_m = up_and_down(0.025, 6);
  for (int series = 1; series <= 3; ++series) {
    for (std::size_t i = 0; i < places_m.size(); ++i) {
      const auto steps = static_cast<int32_t>(
          *home + std::lround(places_m[i] * press.instruments().steps_per_m()));
      const calibration::Direction way = way_of(i, places_m.size());
      if (const auto moved = approach(press, steps, way, kCalibrationSpeed_m_s); !moved)
        return moved.error();
      double dial_m = 0.0;
      (*rig)->with_rig(
          [&](virtual_rig::VirtualRig& virtual_rig) { dial_m = virtual_rig.dial_m(); });
      if (series == 1 && i == 0) dial_zero_m = dial_m;
      // A dial indicator shows thousandths of a millimetre.
      csv += fmt::format("{:.3f},{},{},{}\n", (dial_m - dial_zero_m) * 1e3, steps - *home, series,
                         calibration::direction_name(way));
    }
  }
  return csv;
}

Result<std::string> practise_frame(const BenchSetup& setup) {
  host::StopFlag stop;
  const auto rig = CalibrationRig::open(setup, stop);
  if (!rig) return rig.error();
  host::Press& press = (*rig)->press();
  (*rig)->with_rig([](virtual_rig::VirtualRig& virtual_rig) {
    virtual_rig.set_fixture(virtual_rig::Fixture::block);
  });
  const Result<int32_t> home = press.home();
  if (!home) return home.error();
  const Result<double> zero = (*rig)->mean_counts();
  if (!zero) return zero.error();
  press.instruments().zero_counts = *zero;
  std::string csv = "force_N,deflection_mm,series\n";
  for (int series = 1; series <= 2; ++series) {
    // Force and deflection count from a light contact, so that the block's seat does not matter.
    std::optional<int32_t> contact_steps;
    double contact_N = 0.0;
    for (double load_N : {kBlockContact_N, 250.0, 500.0, 750.0, 1000.0, 1250.0, 1500.0}) {
      const auto touched =
          press.touch({load_N, kCalibrationTouchSpeed_m_s, kCalibrationTouchWay_m});
      if (!touched) return touched.error();
      const Result<double> counts = (*rig)->mean_counts();
      if (!counts) return counts.error();
      const int32_t steps = press.newest()->position_steps;
      const double force_N = press.instruments().force_N(*counts);
      if (!contact_steps) {
        contact_steps = steps;
        contact_N = force_N;
        continue;
      }
      const double way_mm = (steps - *contact_steps) / press.instruments().steps_per_m() * 1e3;
      csv += fmt::format("{:.2f},{:.4f},{}\n", force_N - contact_N, way_mm, series);
    }
    if (const auto back = press.move_to(*home, kCalibrationSpeed_m_s); !back) return back.error();
  }
  return csv;
}

}  // namespace controller::cli
