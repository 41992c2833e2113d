// Invented records and forks for tests of files.
#pragma once

#include <cmath>
#include <string>

#include "protocol/record/sweep_record.hpp"

namespace test_support {

inline const std::string kLarchToml = R"(name = "Larch 160"
travel = "160 mm"
maximum_pressure = "150 psi"
kind = "air"
[air_spring]
piston_diameter = "31.0 mm"
shaft_diameter = "8.0 mm"
positive_volume = "205 cm3 +/- 5 cm3"
negative_volume = "33 cm3"
transfer_travel = "2.5 mm"
spacer_volume = "7.0 cm3"
[lower_legs]
stanchion_diameter = "34 mm"
volume = "390 cm3"
)";

inline protocol::Fork larch() {
  protocol::Fork fork;
  fork.name = "Larch 160";
  fork.travel_m = 0.160;
  fork.maximum_pressure_Pa = 1034213.5939752541;  // 150 psi
  fork.air_spring.piston_diameter_m = 0.031;
  fork.air_spring.shaft_diameter_m = 0.008;
  fork.air_spring.positive_volume_m3 = protocol::Toleranced{205e-6, 5e-6};
  fork.air_spring.negative_volume_m3 = protocol::Toleranced{33e-6, std::nullopt};
  fork.air_spring.spacer_volume_m3 = 7e-6;
  fork.lower_legs.stanchion_diameter_m = 0.034;
  return fork;
}

// Metadata with every field away from its default, so that one that is lost shows.
inline protocol::Metadata full_metadata() {
  protocol::Metadata m;
  m.record_id = "20261125T140307Z-0123456789ab";
  m.created = "2026-11-25T14:03:07Z";
  m.state = protocol::RecordState::interrupted;
  m.state_reason = "the cable was pulled";
  m.origin = "sweep";
  m.source = "bench-1";
  m.source_sha256 = std::string(64, 'a');
  m.rig_id = "rig-7";
  m.fork = larch();
  m.fork.damper_rod_diameter_m = 0.010;
  m.fork.bumper_m = 0.012;
  m.fork.sheet = {1.98, "1100 EUR", "test sample"};
  m.fork.air_spring.transfer_travel_m = protocol::Toleranced{0.0025, 0.0005};
  m.fork.lower_legs.volume_m3 = protocol::Toleranced{390e-6, 20e-6};
  m.setting = {558475.3407466372,
               2,
               298.15,
               95460.8,
               278.15,
               84556.0,
               {0.02, 90000.0, 303.15},
               protocol::GasStart::cycled,
               protocol::Coupling::push,
               "3 of 12, from closed"};
  m.speed_m_s = 0.004;
  m.conditioning_cycles = 2;
  m.measuring_cycles = 3;
  m.program = {{0.004, 2, 0.0, 0}, {0.016, 1, 20.0, 7}};
  m.single_stroke = true;
  m.pressure_after_gauge_Pa = 557000.0;
  m.conditions = {300.0, 294.0, 294.5, 295.0, 296.0, 4};
  m.zero_before_counts = -1234.5;
  m.zero_after_counts = -1236.25;
  m.travel_zero_steps = 1234.75;
  m.recomputed_from = "20261125T140307Z-000000000000";
  m.force_calibration = protocol::AppliedCalibration{
      std::string(64, 'f'), {-1.5, 0.0025}, {0.25, -1e-6, -1e-6, 1e-12}, -100.0, 2500.0,
      "2027-11-25"};
  m.travel_calibration = protocol::AppliedCalibration{
      "t", {0.0, 2.5e-6}, {0, 0, 0, 1e-18}, 0.0, 0.2, "", protocol::Backlash{3e-5, 2e-6}};
  m.frame_calibration = protocol::AppliedCalibration{"c", {1e-7}, {1e-18}, 0.0, 2000.0, ""};
  m.doubt = {0.001, 0.5, 0.0001, 0.005, 2000.0, true};
  m.counters = {9007199254740993ULL, 2, 3, 4, 5};
  m.torn_rows = 1;
  m.remarks = {"the room was cold", "\"quoted\", with a comma"};
  m.unusable_reason = "the clamp slipped";
  return m;
}

// One compression and its return, `rows` samples at 100 Hz, two strokes.
inline protocol::SweepRecord loop_record(int rows = 200) {
  protocol::SweepRecord record;
  record.metadata.record_id = "20261125T140307Z-0123456789ab";
  record.metadata.created = "2026-11-25T14:03:07Z";
  record.metadata.origin = "sweep";
  record.metadata.source = "bench-1";
  record.metadata.fork = larch();
  record.metadata.setting.pressure_gauge_Pa = 558475.3407466372;
  for (int i = 0; i < rows; ++i) {
    const bool back = i >= rows / 2;
    const int step = back ? rows - 1 - i : i;
    record.time_s.push_back(0.01 * i);
    record.stroke.push_back(back ? 1 : 0);
    record.travel_m.push_back(0.150 * step / (rows / 2 - 1));
    record.force_N.push_back(200.0 + 5e3 * record.travel_m.back() + (back ? -20.0 : 20.0));
    record.raw_steps.push_back(400 * step);
    record.raw_counts.push_back(-100000 + 37 * i);
  }
  return record;
}

}  // namespace test_support
