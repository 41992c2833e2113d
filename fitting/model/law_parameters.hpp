// The force law's parameters: one list, in one order, with the name and unit each is printed with.
//
// Inside the law everything is SI. The printed value is SI divided by the unit's factor.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string_view>

namespace fitting {

enum LawIndex : std::size_t {
  kPositiveVolume,       // V_p0, effective, full extension, no spacers
  kNegativeVolume,       // V_n0, full extension
  kLowerLegVolume,       // V_l0, full extension
  kPreload,              // F_0
  kFriction,             // F_c0, at zero gauge pressure
  kFrictionPerPressure,  // k_f, N/Pa
  kPreslidingTravel,     // delta
  kStaticExcess,         // friction at rest over kinetic friction, less one
  kStribeckSpeed,        // the excess falls as exp(-(v/v_s)^2)
  kTransferTravel,       // x_t, the middle of the port's band
  kTransferBand,         // full width of the band
  kThermalTime,          // positive chamber, at the reference state
  kNegativeThermalTime,
  kLowerLegThermalTime,
  kBumperForce,  // at full travel
  kCoilRate,
  kAddedRate,  // joins the coil's beyond a travel
  kAddedRateFrom,
  kTopOutRate,  // of the spring that pulls against the coil, up to a travel
  kTopOutTravel,
  kDamperCompression,  // N s/m, open damper, stroke going in
  kDamperRebound,      // N s/m, going out
  kDamperGas,          // rise of the rod's gas force from full extension to full travel
  kExponent,           // of the air chambers, where there was no clock
  kLowerLegExponent,
  kSpacerVolume,  // each
  kPistonDiameter,
  kDamperRodArea,  // taken from the stanchions' area; 0 for an open cartridge
  kPressureScale,  // true gauge pressure over the reading
  kTravelZero,     // true travel minus the record's
  kFillError,      // of one sweep: true minus read pressure
  kLawSize,
};

struct LawParameterInfo {
  std::string_view name;
  std::string_view unit;
  double unit_SI;                        // one printed unit in SI
  std::optional<double> absent_SI = {};  // what a model that does not name it means
};

inline constexpr std::array<LawParameterInfo, kLawSize> kLawParameters = {{
    {"positive_volume", "cm3", 1e-6},
    {"negative_volume", "cm3", 1e-6},
    {"lower_leg_volume", "cm3", 1e-6},
    {"preload", "N", 1.0},
    {"friction", "N", 1.0},
    {"friction_per_bar", "N/bar", 1e-5},
    {"presliding_travel", "mm", 1e-3},
    {"static_excess", "1", 1.0, 0.0},
    {"stribeck_speed", "mm/s", 1e-3, 1e-3},
    {"transfer_travel", "mm", 1e-3},
    {"transfer_band", "mm", 1e-3},
    {"thermal_time", "s", 1.0},
    {"negative_thermal_time", "s", 1.0},
    {"lower_leg_thermal_time", "s", 1.0},
    {"bumper_force", "N", 1.0},
    {"coil_rate", "N/mm", 1e3, 0.0},
    {"added_rate", "N/mm", 1e3, 0.0},
    {"added_rate_from", "mm", 1e-3, 0.0},
    {"top_out_rate", "N/mm", 1e3, 0.0},
    {"top_out_travel", "mm", 1e-3, 0.0},
    {"damper_compression", "N s/m", 1.0, 0.0},
    {"damper_rebound", "N s/m", 1.0, 0.0},
    {"damper_gas", "N", 1.0, 0.0},
    {"exponent", "1", 1.0},
    {"lower_leg_exponent", "1", 1.0},
    {"spacer_volume", "cm3", 1e-6},
    {"piston_diameter", "mm", 1e-3},
    {"damper_rod_area", "mm2", 1e-6},
    {"pressure_scale", "1", 1.0},
    {"travel_zero", "mm", 1e-3},
    {"fill_error", "kPa", 1e3},
}};

// All parameters in SI. T is double, or a jet that carries the derivatives by every parameter.
template <class T>
using LawParameters = std::array<T, kLawSize>;

}  // namespace fitting
