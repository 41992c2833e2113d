// A fork on a bench, as physics: what the load cell feels when the screw turns.
//
//   F = (P_p - p_a) A_p - (P_n - p_a) A_n + (P_l - p_a) A_l + F_0 + F_bumper + F_damper +
//   F_friction
//
// with the pressures from mass and energy of each gas. Between the screw and the air spring lie, in
// this order: backlash, the frame's compliance, the axle, the bushings' compliance, and the stops
// at both ends of travel. Compression is positive, travel 0 is full extension.
//
// Time is virtual: nothing here knows a clock. No thread, no randomness.
#pragma once

#include "controller/virtual_rig/chamber.hpp"
#include "controller/virtual_rig/flaws.hpp"
#include "controller/virtual_rig/lugre.hpp"
#include "controller/virtual_rig/plant_file.hpp"
#include "protocol/record/sweep_record.hpp"

namespace controller::virtual_rig {

class Plant {
 public:
  // Stands extended, filled to nothing above the room's pressure, until pump() is called.
  explicit Plant(const PlantFile& file);

  // As after at least five slow cycles and rest: the positive chamber reads the setting's gauge
  // pressure at full extension, the lower legs as left by the last vent, all gas at the setting's
  // temperature, which becomes the room's. The fork stands at travel 0, the screw at 0.
  void pump(const protocol::Setting& setting);
  void pump(double pressure_gauge_Pa, int spacers, double temperature_K, double ambient_Pa);

  // Clamped, the carriage pulls the axle as well as it pushes. Unclamped it only pushes: drawn back
  // it leaves the fork, which comes to rest where its force is nothing, often a little into its
  // travel. Clamped from the start.
  void clamp() { clamped_ = true; }
  void unclamp() { clamped_ = false; }
  bool clamped() const { return clamped_; }
  // Puts the carriage elsewhere, without time. REQUIRES: unclamped, and clear of the fork.
  void place_carriage(double screw_m);

  // Turns the screw evenly to a position (metres of carriage) within a time.
  void drive_to(double screw_m, double duration_s);

  // Air lost through the valve: part of the gauge pressure's mass per second.
  void set_leak(double per_s) { leak_per_s_ = per_s; }
  void set_room_temperature(double kelvin) { room_K_ = kelvin; }
  // What is wrong with the fork from now on. Before pump(), so that it rests as it is.
  void set_flaws(const Flaws& flaws) { flaws_ = flaws; }

  double time_s() const { return time_s_; }
  double screw_m() const { return screw_m_; }
  double carriage_m() const { return carriage_m_; }
  double axle_m() const { return carriage_m_ - force_N_ / file_.bench.frame_N_m; }
  double spring_travel_m() const { return travel_m_; }
  double force_N() const { return force_N_; }
  double friction_N() const { return friction_.force_N(); }
  double room_K() const { return room_K_; }
  double heat_J() const { return heat_J_; }  // taken from the walls since pump()

  const Chamber& positive() const { return positive_; }
  const Chamber& negative() const { return negative_; }
  const Chamber& lower_legs() const { return lower_legs_; }
  const PlantFile& file() const { return file_; }
  const protocol::Setting& setting() const { return setting_; }

 private:
  void step(double carriage_m, double duration_s);
  double settle_travel_m(double carriage_m, double duration_s) const;
  double free_travel_m(double duration_s) const;
  double damping_Ns_m(double speed_m_s) const;
  void move_gas(double travel_m, double duration_s);
  void pass_port(double duration_s);
  void leak(double duration_s);
  double conductance_W_K(const Chamber& chamber, const WallLaw& law, double area_m2) const;
  double longest_step_s() const;

  PlantFile file_;
  protocol::Setting setting_;
  double piston_m2_, negative_m2_, lower_leg_m2_;
  double series_N_m_;  // frame and bushings
  double room_K_, ambient_Pa_;
  double leak_per_s_ = 0.0;
  Flaws flaws_;
  bool clamped_ = true;

  double time_s_ = 0.0;
  double screw_m_ = 0.0, carriage_m_ = 0.0, travel_m_ = 0.0;
  double force_N_ = 0.0;
  double still_force_N_ = 0.0;  // without stops and damping
  double heat_J_ = 0.0;
  Chamber positive_, negative_, lower_legs_;
  LuGre friction_;
};

}  // namespace controller::virtual_rig
