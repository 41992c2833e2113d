// A load cell, a screw and a frame that never were, for the tests of this room.
#pragma once

#include <random>

#include "calibration/readings.hpp"

namespace calibration_test {

constexpr double kCellSlope_N_count = 0.0125;
constexpr double kCellZero_counts = 12000.0;
constexpr double kCellNoise_counts = 8.0;

inline calibration::ReadingSet empty_set(calibration::Kind kind) {
  calibration::ReadingSet set;
  set.kind = kind;
  set.particulars.rig_id = "bench 1";
  set.particulars.cell_id = "cell 0417";
  set.particulars.operator_name = "R. Fell";
  set.particulars.date = "2026-11-25";
  set.particulars.valid_until = "2027-11-25";
  set.particulars.standards = {{"reference transducer", "T-118", 0.0005}};
  return set;
}

// `series` times up from 0 to 500 N in steps of 100 N and down again.
inline calibration::ReadingSet force_readings(unsigned seed, int series = 3) {
  calibration::ReadingSet set = empty_set(calibration::Kind::force);
  std::mt19937 generator(seed);
  std::normal_distribution<double> noise(0.0, kCellNoise_counts);
  for (int s = 1; s <= series; ++s) {
    for (int i = 0; i <= 10; ++i) {
      calibration::Reading reading;
      reading.reference = 100.0 * (i <= 5 ? i : 10 - i);
      reading.reading =
          kCellZero_counts + reading.reference / kCellSlope_N_count + noise(generator);
      reading.series = s;
      set.readings.push_back(reading);
    }
  }
  return set;
}

// Gauge blocks up and down, 400 steps per mm.
inline calibration::ReadingSet travel_readings() {
  calibration::ReadingSet set = empty_set(calibration::Kind::travel);
  const int wobble_steps[] = {2, -3, 1, 0, -1, 3, -2, 1};
  for (int i = 0; i < 8; ++i) {
    calibration::Reading reading;
    reading.reference = 0.020 * i;
    reading.reading = 1000.0 + 8000.0 * i + wobble_steps[i];
    set.readings.push_back(reading);
  }
  return set;
}

// A frame of 4 N/um.
inline calibration::ReadingSet frame_readings() {
  calibration::ReadingSet set = empty_set(calibration::Kind::frame);
  const double wobble_m[] = {1e-6, -2e-6, 1e-6, 0.0, -1e-6};
  for (int i = 1; i <= 5; ++i) {
    calibration::Reading reading;
    reading.reading = 400.0 * i;
    reading.reference = 400.0 * i / 4e6 + wobble_m[i - 1];
    set.readings.push_back(reading);
  }
  return set;
}

}  // namespace calibration_test
