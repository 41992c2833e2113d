// The units that the reader wishes. Inside everything is SI; on its way to the page each number
// passes through one of these scales, once, with the decimals that the unit deserves.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "fitting/report/figure.hpp"

namespace fitting {

enum class UnitSystem { metric, imperial };

struct UnitScale {
  std::string unit;       // as printed: "mm", "in", "°F"
  double per_si = 1.0;    // of a difference too
  double offset = 0.0;    // of a temperature
  int more_decimals = 0;  // than the metric unit needs for as fine a step

  // Numbers for a figure's axis.
  double of(double si) const { return si * per_si + offset; }
  std::vector<double> of(const std::vector<double>& si) const;
  // "12.3": `decimals` are those of the metric unit.
  std::string number(double si, int decimals) const;
  // "12.3 mm"
  std::string text(double si, int decimals) const;
  // "12.3 ± 0.4 mm", both with two digits of the uncertainty. Not for temperatures.
  std::string doubtful(double si, double standard_uncertainty_si) const;
  // The same two numbers apart: for neighbouring cells of a table.
  std::pair<std::string, std::string> cells(double si, double standard_uncertainty_si) const;
  // "Travel, mm"
  std::string heading(std::string_view what) const;
  Axis axis(std::string_view what) const;
};

struct ReaderUnits {
  UnitSystem system = UnitSystem::metric;
  UnitScale travel;       // mm, in
  UnitScale force;        // N, lbf
  UnitScale rate;         // N/mm, lbf/in
  UnitScale volume;       // cm³, in³
  UnitScale energy;       // J, ft·lbf
  UnitScale slow_speed;   // of a bench: mm/s, in/s
  UnitScale ride_speed;   // m/s, ft/s
  UnitScale distance;     // m, ft
  UnitScale mass;         // of a fork: g, lb
  UnitScale temperature;  // °C, °F
  UnitScale ambient;      // pressure of the room: hPa, psi
};

ReaderUnits reader_units(UnitSystem system = UnitSystem::metric);

// For numbers that are in this metric unit already, named as files do ("mm", "cm3", "N", "N/mm"); a
// unit that has no other stays as it is.
UnitScale scale_from(const ReaderUnits& units, std::string_view metric_unit);

}  // namespace fitting
