// Air as an ideal gas with constant heats.
//
// Between 5 and 20 bar at 20 to 27 degC real air departs from it by 0.1 to 0.6 % [Lemmon2000]; the
// tests hold that figure against the virial equation.
#pragma once

namespace fitting {

inline constexpr double kAirGasConstant_J_kgK = 287.05287;  // [ISO2533]
inline constexpr double kAirHeatRatio = 1.4;
inline constexpr double kAirHeatAtConstantVolume_J_kgK =
    kAirGasConstant_J_kgK / (kAirHeatRatio - 1.0);
inline constexpr double kAirHeatAtConstantPressure_J_kgK =
    kAirHeatRatio * kAirHeatAtConstantVolume_J_kgK;

}  // namespace fitting
