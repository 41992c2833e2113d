#include "calibration/readings_check.hpp"

#include <fmt/format.h>

#include <cmath>
#include <map>

namespace calibration {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

namespace {

// "line 7" of the file it came from, or its place in the list.
std::string place_of(const std::vector<Reading>& readings, size_t i) {
  return readings[i].line > 0 ? fmt::format("line {}", readings[i].line)
                              : fmt::format("reading {}", i + 1);
}

Result<void> check_conditions(const ReadingSet& set) {
  const double gravity = set.conditions.gravity_m_s2.value_or(protocol::kStandardGravity_m_s2);
  if (!(gravity > 9.7 && gravity < 9.9)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("gravity {} m/s2 is not of this Earth (9.76 to 9.84).", gravity)};
  }
  const double air = set.conditions.air_density_kg_m3.value_or(0.0);
  if (!(air >= 0.0 && air < 2.0)) {
    return Error{
        Errc::input_out_of_range,
        fmt::format("air density {} kg/m3 must lie from 0 to 2; a room has about 1.2.", air)};
  }
  const double room_K = set.particulars.temperature_K.value_or(293.15);
  if (!(room_K > 250.0 && room_K < 330.0)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("a room of {:.1f} degC is no place to calibrate (-20 to 55 degC).",
                             room_K - protocol::kZeroCelsius_K)};
  }
  if (!(set.resolution >= 0.0)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("a resolution of {} must be zero or more.", set.resolution)};
  }
  return {};
}

Result<void> check_finite(const ReadingSet& set) {
  for (size_t i = 0; i < set.readings.size(); ++i) {
    const Reading& reading = set.readings[i];
    const double load_kg = reading.load_kg.value_or(0.0);
    if (std::isfinite(reading.reading) && std::isfinite(reading.reference) &&
        std::isfinite(load_kg)) {
      continue;
    }
    return Error{Errc::calibration_unusable,
                 fmt::format("{} is not a finite number ({} under {}); leave it out.",
                             place_of(set.readings, i), reading.reading,
                             reading.load_kg.value_or(reading.reference))};
  }
  return {};
}

Result<void> check_saturation(const ReadingSet& set) {
  if (set.kind != Kind::force) return {};
  for (size_t i = 0; i < set.readings.size(); ++i) {
    const double counts = set.readings[i].reading;
    if (counts > set.counts_lowest && counts < set.counts_highest) continue;
    return Error{
        Errc::calibration_unusable,
        fmt::format("{}: {} counts is at the end of the converter ({} to {}): the reading "
                    "is saturated. Load less, or lower the gain.",
                    place_of(set.readings, i), counts, set.counts_lowest, set.counts_highest)};
  }
  return {};
}

Result<void> check_creep(const ReadingSet& set) {
  if (!set.creep) return {};
  if (set.kind != Kind::force) {
    return Error{Errc::calibration_unusable,
                 fmt::format("creep is a matter of the load cell; {} readings have none.",
                             kind_name(set.kind))};
  }
  if (!(set.creep->load_N > 0.0)) {
    return Error{Errc::calibration_unusable,
                 "creep readings do not say under which load they were taken; give it, more than "
                 "zero."};
  }
  const std::vector<CreepReading>& readings = set.creep->readings;
  if (readings.size() < 2) {
    return Error{Errc::calibration_unusable,
                 "creep needs two readings at least: one soon after the load was on, one later."};
  }
  for (size_t i = 0; i < readings.size(); ++i) {
    const double before_s = i > 0 ? readings[i - 1].time_s : 0.0;
    const bool in_order = i == 0 ? readings[i].time_s >= 0.0 : readings[i].time_s > before_s;
    if (in_order && std::isfinite(readings[i].reading)) continue;
    return Error{Errc::calibration_unusable,
                 fmt::format("creep reading {}: {} at {} s; times must ascend from zero on, and "
                             "readings be numbers.",
                             i + 1, readings[i].reading, readings[i].time_s)};
  }
  return {};
}

}  // namespace

Result<void> check_particulars(const ReadingSet& set) {
  const Particulars& particulars = set.particulars;
  if (!is_date(particulars.date)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("the date of the calibration, '{}', is not a date; write 2026-11-25.",
                             particulars.date)};
  }
  const std::string& limit = particulars.valid_until;
  if (!limit.empty() && (!is_date(limit) || limit < particulars.date)) {
    return Error{Errc::input_out_of_range,
                 fmt::format("valid until '{}' is not a date from {} on; write 2026-11-25.", limit,
                             particulars.date)};
  }
  for (const Standard& standard : particulars.standards) {
    if (!standard.valid_until.empty() && !is_date(standard.valid_until)) {
      return Error{Errc::input_out_of_range,
                   fmt::format("standard '{}' is valid until '{}', which is not a date; write "
                               "2026-11-25.",
                               standard.name, standard.valid_until)};
    }
    const double relative = standard.relative_standard_uncertainty.value_or(0.0);
    if (!(relative >= 0.0 && relative < 0.1)) {
      return Error{Errc::input_out_of_range,
                   fmt::format("the relative standard uncertainty {} of standard '{}' must lie "
                               "from 0 to 0.1 (0.1 % is 0.001).",
                               relative, standard.name)};
    }
  }
  return check_conditions(set);
}

Result<void> check_readings(const ReadingSet& set) {
  if (const Result<void> finite = check_finite(set); !finite) return finite.error();
  if (const Result<void> inside = check_saturation(set); !inside) return inside.error();
  return check_creep(set);
}

Result<void> settle_directions(std::vector<Reading>& readings) {
  std::map<int, size_t> last_of_series;
  for (size_t i = 0; i < readings.size(); ++i) {
    Reading& reading = readings[i];
    const auto [last, is_first] = last_of_series.try_emplace(reading.series, i);
    if (is_first) {
      if (reading.direction == Direction::unsaid) reading.direction = Direction::ascending;
      continue;
    }
    const Reading& before = readings[last->second];
    last->second = i;
    const Direction order = reading.reference > before.reference   ? Direction::ascending
                            : reading.reference < before.reference ? Direction::descending
                                                                   : before.direction;
    if (reading.direction == Direction::unsaid) reading.direction = order;
    if (reading.direction != order && reading.direction == before.direction) {
      return Error{Errc::calibration_unusable,
                   fmt::format("{}: {} after {} is out of order in an {} series; start a new "
                               "series, or mend the line.",
                               place_of(readings, i), reading.reference, before.reference,
                               direction_name(reading.direction))};
    }
  }
  return {};
}

}  // namespace calibration
