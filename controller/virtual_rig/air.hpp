// Air as a gas that is nearly, but not quite, ideal: the virial equation cut after the second
// coefficient, with the caloric part that follows from it.
//
//   p(T, rho) = rho R T (1 + b(T) rho)
//   u(T, rho) = c_v T - R T^2 b'(T) rho          (from du/drho = (p - T dp/dT) / rho^2)
//   b(T)      = a0 + a1 (300 K / T) + a2 (300 K / T)^2
//
// The three numbers of b are a least-squares fit to second virial coefficients of air from 250 to
// 350 K that follow from the equation of state of Lemmon et al. (2000); it meets them within
// 0.003 cm3/mol. c_v is constant. Cutting after the second coefficient leaves out C rho^2, about
// 0.03 % at 10 bar and 0.1 % at 20 bar.
#pragma once

#include <cmath>

namespace controller::virtual_rig {

inline constexpr double kGasConstant_J_kgK = 287.05;
inline constexpr double kIsochoricHeat_J_kgK = 718.0;
inline constexpr double kMolarMass_kg_mol = 28.96546e-3;

struct Air {
  static constexpr double kReference_K = 300.0;
  static constexpr double kB0_m3_kg = 39.754e-6 / kMolarMass_kg_mol;
  static constexpr double kB1_m3_kg = -37.081e-6 / kMolarMass_kg_mol;
  static constexpr double kB2_m3_kg = -10.435e-6 / kMolarMass_kg_mol;

  static double second_virial_m3_kg(double temperature_K) {
    const double r = kReference_K / temperature_K;
    return kB0_m3_kg + r * (kB1_m3_kg + r * kB2_m3_kg);
  }

  static double pressure_Pa(double temperature_K, double density_kg_m3) {
    return density_kg_m3 * kGasConstant_J_kgK * temperature_K *
           (1.0 + second_virial_m3_kg(temperature_K) * density_kg_m3);
  }

  static double energy_J_kg(double temperature_K, double density_kg_m3) {
    // -T^2 b'(T) = 300 K (a1 + 2 a2 300 K / T)
    const double departure_Km3_kg =
        kReference_K * (kB1_m3_kg + 2.0 * kB2_m3_kg * kReference_K / temperature_K);
    return kIsochoricHeat_J_kgK * temperature_K +
           kGasConstant_J_kgK * departure_Km3_kg * density_kg_m3;
  }

  // The temperature at which the gas has this energy. The departure is under a hundredth of the
  // whole, so Newton from a near guess is exact after two steps.
  static double temperature_K(double energy_J_kg_wanted, double density_kg_m3, double guess_K) {
    double temperature = guess_K;
    for (int step = 0; step < 2; ++step) {
      const double slope_J_kgK =
          kIsochoricHeat_J_kgK - 2.0 * kGasConstant_J_kgK * density_kg_m3 * kB2_m3_kg *
                                     kReference_K * kReference_K / (temperature * temperature);
      temperature -= (energy_J_kg(temperature, density_kg_m3) - energy_J_kg_wanted) / slope_J_kgK;
    }
    return temperature;
  }

  // The density at this pressure and temperature: the root of b rho^2 + rho - p/(R T) = 0 that
  // goes over into the ideal one.
  static double density_kg_m3(double temperature_K, double pressure_Pa_wanted) {
    const double ideal = pressure_Pa_wanted / (kGasConstant_J_kgK * temperature_K);
    const double b = second_virial_m3_kg(temperature_K);
    return 2.0 * ideal / (1.0 + std::sqrt(1.0 + 4.0 * b * ideal));
  }
};

}  // namespace controller::virtual_rig
