#include "fitting/report/reader_units.hpp"

#include <algorithm>
#include <utility>

#include "fitting/report/numbers.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

// A factor that units.hpp knows.
double per_si(std::string_view unit) {
  return 1.0 / protocol::from_unit(1.0, unit);
}

constexpr double kInchesPerFoot = 12.0;

}  // namespace

std::vector<double> UnitScale::of(const std::vector<double>& si) const {
  std::vector<double> out;
  out.reserve(si.size());
  for (double each : si) out.push_back(of(each));
  return out;
}

std::string UnitScale::number(double si, int decimals) const {
  return rounded(of(si), std::max(0, decimals + more_decimals));
}

std::string UnitScale::text(double si, int decimals) const {
  return number(si, decimals) + " " + unit;
}

std::string UnitScale::doubtful(double si, double standard_uncertainty_si) const {
  return with_uncertainty(si * per_si, standard_uncertainty_si * per_si, unit);
}

std::pair<std::string, std::string> UnitScale::cells(double si,
                                                     double standard_uncertainty_si) const {
  const int decimals = decimals_for(standard_uncertainty_si * per_si);
  return {rounded(si * per_si, decimals), rounded(standard_uncertainty_si * per_si, decimals)};
}

std::string UnitScale::heading(std::string_view what) const {
  return std::string(what) + ", " + unit;
}

Axis UnitScale::axis(std::string_view what) const {
  return {std::string(what), unit};
}

ReaderUnits reader_units(UnitSystem system) {
  ReaderUnits units;
  units.system = system;
  if (system == UnitSystem::metric) {
    units.travel = {"mm", 1e3};
    units.force = {"N", 1.0};
    units.rate = {"N/mm", 1e-3};
    units.volume = {"cm³", 1e6};
    units.energy = {"J", 1.0};
    units.slow_speed = {"mm/s", 1e3};
    units.ride_speed = {"m/s", 1.0};
    units.distance = {"m", 1.0};
    units.mass = {"g", 1e3};
    units.temperature = {"°C", 1.0, -protocol::kZeroCelsius_K};
    units.ambient = {"hPa", 0.01};
    return units;
  }
  const double inches = per_si("in");
  const double pounds_force = per_si("lbf");
  const double feet = inches / kInchesPerFoot;
  units.travel = {"in", inches, 0.0, 2};
  units.force = {"lbf", pounds_force, 0.0, 1};
  units.rate = {"lbf/in", per_si("lbf/in"), 0.0, -1};
  units.volume = {"in³", inches * inches * inches, 0.0, 1};
  units.energy = {"ft·lbf", feet * pounds_force};
  units.slow_speed = {"in/s", inches, 0.0, 2};
  units.ride_speed = {"ft/s", feet};
  units.distance = {"ft", feet};
  units.mass = {"lb", per_si("lb"), 0.0, 2};
  units.temperature = {"°F", 1.8, 32.0 - 1.8 * protocol::kZeroCelsius_K};
  units.ambient = {"psi", per_si("psi"), 0.0, 2};
  return units;
}

UnitScale scale_from(const ReaderUnits& units, std::string_view metric_unit) {
  static constexpr std::pair<std::string_view, UnitScale ReaderUnits::*> kKnown[] = {
      {"mm", &ReaderUnits::travel},     {"N", &ReaderUnits::force},
      {"N/mm", &ReaderUnits::rate},     {"cm3", &ReaderUnits::volume},
      {"J", &ReaderUnits::energy},      {"mm/s", &ReaderUnits::slow_speed},
      {"m/s", &ReaderUnits::ride_speed}};
  for (const auto& [name, scale] : kKnown) {
    if (name != metric_unit) continue;
    UnitScale out = units.*scale;
    out.per_si /= (reader_units().*scale).per_si;
    return out;
  }
  return {shown_unit(metric_unit)};
}

}  // namespace fitting
