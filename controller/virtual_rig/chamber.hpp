// One closed volume of air: mass and inner energy, and the temperature and pressure that follow.
//
// Mass and energy are the state, so that neither is lost by the integration: what leaves one
// chamber enters the other, and what the piston does is what the gas gets.
#pragma once

#include "controller/virtual_rig/air.hpp"

namespace controller::virtual_rig {

class Chamber {
 public:
  // At rest at this temperature.
  void fill(double mass_kg, double volume_m3, double temperature_K);

  // Moves the walls to a new volume while heat flows from the wall; second order in the step
  // (midpoint). RETURNS: heat taken from the wall, J. conductance_W_K is h A_w.
  double advance(double volume_m3, double duration_s, double wall_K, double conductance_W_K);

  // Takes in mass with the enthalpy (J/kg) it brings; negative lets it go.
  void exchange(double mass_kg, double enthalpy_J_kg);

  double mass_kg() const { return mass_kg_; }
  double energy_J() const { return energy_J_; }
  double volume_m3() const { return volume_m3_; }
  double temperature_K() const { return temperature_K_; }
  double pressure_Pa() const { return pressure_Pa_; }
  double density_kg_m3() const { return mass_kg_ / volume_m3_; }
  double enthalpy_J_kg() const { return energy_J_ / mass_kg_ + pressure_Pa_ / density_kg_m3(); }

 private:
  void refresh();

  double mass_kg_ = 0.0;
  double energy_J_ = 0.0;
  double volume_m3_ = 1.0;
  double temperature_K_ = 293.15;
  double pressure_Pa_ = 0.0;
};

}  // namespace controller::virtual_rig
