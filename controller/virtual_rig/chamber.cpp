#include "controller/virtual_rig/chamber.hpp"

namespace controller::virtual_rig {

void Chamber::fill(double mass_kg, double volume_m3, double temperature_K) {
  mass_kg_ = mass_kg;
  volume_m3_ = volume_m3;
  temperature_K_ = temperature_K;
  energy_J_ = mass_kg * Air::energy_J_kg(temperature_K, mass_kg / volume_m3);
  pressure_Pa_ = Air::pressure_Pa(temperature_K, mass_kg / volume_m3);
}

double Chamber::advance(double volume_m3, double duration_s, double wall_K,
                        double conductance_W_K) {
  const double change_m3 = volume_m3 - volume_m3_;
  const double middle_m3 = volume_m3_ + 0.5 * change_m3;
  const double half_heat_J = 0.5 * duration_s * conductance_W_K * (wall_K - temperature_K_);
  const double middle_energy_J = energy_J_ + half_heat_J - 0.5 * pressure_Pa_ * change_m3;
  const double middle_density = mass_kg_ / middle_m3;
  const double middle_K =
      Air::temperature_K(middle_energy_J / mass_kg_, middle_density, temperature_K_);
  const double heat_J = duration_s * conductance_W_K * (wall_K - middle_K);
  energy_J_ += heat_J - Air::pressure_Pa(middle_K, middle_density) * change_m3;
  volume_m3_ = volume_m3;
  refresh();
  return heat_J;
}

void Chamber::exchange(double mass_kg, double enthalpy_J_kg) {
  mass_kg_ += mass_kg;
  energy_J_ += mass_kg * enthalpy_J_kg;
  refresh();
}

void Chamber::refresh() {
  const double density = density_kg_m3();
  temperature_K_ = Air::temperature_K(energy_J_ / mass_kg_, density, temperature_K_);
  pressure_Pa_ = Air::pressure_Pa(temperature_K_, density);
}

}  // namespace controller::virtual_rig
