#include "controller/virtual_rig/plant.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "controller/virtual_rig/slow_spring.hpp"

namespace controller::virtual_rig {
namespace {

// Where nothing happens quickly, and where the port is near.
constexpr double kStep_s = 1e-3;
constexpr double kPortStep_s = 2.5e-4;
constexpr double kLongestMove_m = 2e-5;
// Below this difference the flow through the port is laminar: linear in the difference.
constexpr double kLaminar_Pa = 200.0;
// Of a fork left to itself: its damper and moving weight, and more than its steepest spring rate.
constexpr double kFreeDamping_Ns_m = 400.0;
constexpr double kFreeStiffness_N_m = 5e4;
constexpr double kHeatRatio = 1.4;  // for the stiffness of the exchange alone

double circle_m2(double diameter_m) {
  return 0.25 * std::numbers::pi * diameter_m * diameter_m;
}

// The wall of a bore around the given volume, both ends included.
double bore_wall_m2(double volume_m3, double area_m2, double circumference_m) {
  return circumference_m * std::max(0.0, volume_m3) / area_m2 + 2.0 * area_m2;
}

}  // namespace

double PlantFork::piston_area_m2() const {
  return circle_m2(piston_diameter_m);
}
double PlantFork::negative_area_m2() const {
  return circle_m2(piston_diameter_m) - circle_m2(shaft_diameter_m);
}
double PlantFork::lower_leg_area_m2() const {
  return 2.0 * circle_m2(lower_legs.stanchion_diameter_m) - circle_m2(shaft_diameter_m) -
         circle_m2(damper_rod_diameter_m);
}

Plant::Plant(const PlantFile& file)
    : file_(file),
      piston_m2_(file.fork.piston_area_m2()),
      negative_m2_(file.fork.negative_area_m2()),
      lower_leg_m2_(file.fork.lower_leg_area_m2()),
      series_N_m_(1.0 / (1.0 / file.bench.frame_N_m + 1.0 / file.fork.bushing_N_m)),
      room_K_(file.bench.room_K),
      ambient_Pa_(protocol::kStandardAtmosphere_Pa),
      friction_(file.fork.friction.bristles) {
  pump(0.0, 0, room_K_, ambient_Pa_);
}

void Plant::pump(double pressure_gauge_Pa, int spacers, double temperature_K, double ambient_Pa) {
  protocol::Setting setting;
  setting.pressure_gauge_Pa = pressure_gauge_Pa;
  setting.spacers = spacers;
  setting.temperature_K = temperature_K;
  setting.ambient_pressure_Pa = ambient_Pa;
  setting.vent = {0.0, ambient_Pa, temperature_K};
  pump(setting);
}

void Plant::pump(const protocol::Setting& setting) {
  const PlantFork& fork = file_.fork;
  setting_ = setting;
  room_K_ = setting.temperature_K;
  ambient_Pa_ = setting.ambient_pressure_Pa;
  const SlowSpring slow(fork, setting);
  const SlowState state = slow.state(0.0);
  positive_.fill(state.positive_kg, positive_volume_m3(fork, setting.spacers, 0.0), room_K_);
  negative_.fill(state.negative_kg, negative_volume_m3(fork, 0.0), room_K_);
  lower_legs_.fill(state.lower_leg_kg, lower_leg_volume_m3(fork, 0.0), room_K_);
  friction_ = LuGre(fork.friction.bristles);
  time_s_ = screw_m_ = carriage_m_ = travel_m_ = heat_J_ = 0.0;
  still_force_N_ = force_N_ = slow.spring_force_N(0.0);
  // Settles the small give of frame and bushings.
  for (int i = 0; i < 20; ++i) step(0.0, kStep_s);
  time_s_ = heat_J_ = 0.0;
}

void Plant::drive_to(double screw_m, double duration_s) {
  if (duration_s <= 0.0) return;
  const double from_m = screw_m_;
  const double start_s = time_s_;
  double done_s = 0.0;
  const double speed_m_s = std::abs(screw_m - from_m) / duration_s;
  const double half_m = 0.5 * file_.bench.backlash_m;
  while (done_s < duration_s) {
    double length_s = std::min(longest_step_s(), duration_s - done_s);
    if (speed_m_s > 0.0) length_s = std::min(length_s, kLongestMove_m / speed_m_s);
    // A remainder too short to divide by joins the step before it.
    if (duration_s - done_s - length_s < 1e-9) length_s = duration_s - done_s;
    done_s += length_s;
    screw_m_ = from_m + (screw_m - from_m) * (done_s / duration_s);
    step(std::clamp(carriage_m_, screw_m_ - half_m, screw_m_ + half_m), length_s);
  }
  screw_m_ = screw_m;
  time_s_ = start_s + duration_s;
}

double Plant::longest_step_s() const {
  const TransferPort& port = file_.fork.port;
  const double reach_m = 0.5 * port.band_m + port.edge_m;
  return std::abs(travel_m_ - port.centre_m) < reach_m ? kPortStep_s : kStep_s;
}

void Plant::step(double carriage_m, double duration_s) {
  const PlantFork& fork = file_.fork;
  double travel_m = settle_travel_m(carriage_m, duration_s);
  bool in_contact = true;
  if (!clamped_) {
    const double free_m = free_travel_m(duration_s);
    in_contact = travel_m >= free_m;
    if (!in_contact) travel_m = free_m;
  }
  const double distance_m = travel_m - travel_m_;
  const double speed_m_s = distance_m / duration_s;
  move_gas(travel_m, duration_s);
  const double gauge_Pa = std::max(0.0, positive_.pressure_Pa() - ambient_Pa_);
  const double sound_N = fork.friction.coulomb_N + fork.friction.coulomb_N_per_Pa * gauge_Pa;
  friction_.advance(flaws_.friction_N(sound_N, travel_m), distance_m, duration_s);
  const double negative_Pa = flaws_.negative_vented ? ambient_Pa_ : negative_.pressure_Pa();
  const double solid_N = (positive_.pressure_Pa() - ambient_Pa_) * piston_m2_ -
                         (negative_Pa - ambient_Pa_) * negative_m2_ +
                         (lower_legs_.pressure_Pa() - ambient_Pa_) * lower_leg_m2_ +
                         solid_force_N(fork, travel_m);
  double stop_N = 0.0;
  if (travel_m < 0.0) stop_N = fork.stop_N_m * travel_m;
  if (travel_m > fork.travel_m) stop_N = fork.stop_N_m * (travel_m - fork.travel_m);
  still_force_N_ = solid_N + friction_.bristle_N();
  force_N_ = solid_N + friction_.force_N() + damping_Ns_m(speed_m_s) * speed_m_s + stop_N;
  if (!clamped_) force_N_ = in_contact ? std::max(0.0, force_N_) : 0.0;
  carriage_m_ = carriage_m;
  time_s_ += duration_s;
}

double Plant::damping_Ns_m(double speed_m_s) const {
  return speed_m_s > 0.0 ? file_.fork.damper_compression_Ns_m : file_.fork.damper_rebound_Ns_m;
}

// Where the air spring comes to stand when the carriage does: frame and bushings give way by the
// force. They are far stiffer than spring and seal, whose force of the step before will do; what is
// as stiff as they are, or stiff in a short step (the stops, the damping), is solved for.
double Plant::settle_travel_m(double carriage_m, double duration_s) const {
  const PlantFork& fork = file_.fork;
  const double pull_N = series_N_m_ * carriage_m - still_force_N_;
  const double towards_m = pull_N / series_N_m_ - travel_m_;
  const double damping_N_m =
      (damping_Ns_m(towards_m) + fork.friction.bristles.bristle_damping_Ns_m) / duration_s;
  const double whole_N_m = series_N_m_ + damping_N_m;
  const double free_m = (pull_N + damping_N_m * travel_m_) / whole_N_m;
  const double stopped_N_m = whole_N_m + fork.stop_N_m;
  if (free_m < 0.0) return free_m * whole_N_m / stopped_N_m;
  if (free_m > fork.travel_m) {
    return fork.travel_m + (free_m - fork.travel_m) * whole_N_m / stopped_N_m;
  }
  return free_m;
}

// Where a fork that nothing holds has moved after the step: towards where its force is nothing, as
// fast as oil and inertia let it.
double Plant::free_travel_m(double duration_s) const {
  const PlantFork& fork = file_.fork;
  double force_N = still_force_N_;
  double stiffness_N_m = fork.friction.bristles.bristle_stiffness_N_m + kFreeStiffness_N_m;
  if (travel_m_ < 0.0) {
    force_N += fork.stop_N_m * travel_m_;
    stiffness_N_m += fork.stop_N_m;
  }
  return travel_m_ - force_N * duration_s / (kFreeDamping_Ns_m + stiffness_N_m * duration_s);
}

void Plant::place_carriage(double screw_m) {
  ENSURE(!clamped_ && screw_m < travel_m_);
  screw_m_ = carriage_m_ = screw_m;
  force_N_ = 0.0;
}

double Plant::conductance_W_K(const Chamber& chamber, const WallLaw& law, double area_m2) const {
  if (law.thermal_time_s) return chamber.mass_kg() * kIsochoricHeat_J_kgK / *law.thermal_time_s;
  return law.coefficient_W_m2K * area_m2;
}

void Plant::move_gas(double travel_m, double duration_s) {
  const PlantFork& fork = file_.fork;
  const double middle_m = 0.5 * (travel_m_ + travel_m);
  constexpr double pi = std::numbers::pi;
  const double positive_wall_m2 =
      fork.positive.extra_area_m2 +
      bore_wall_m2(
          positive_volume_m3(fork, setting_.spacers, middle_m) - fork.positive.extra_volume_m3,
          piston_m2_, pi * fork.piston_diameter_m);
  const double negative_wall_m2 =
      fork.negative.extra_area_m2 +
      bore_wall_m2(negative_volume_m3(fork, middle_m) - fork.negative.extra_volume_m3, negative_m2_,
                   pi * (fork.piston_diameter_m + fork.shaft_diameter_m));
  const double lower_wall_m2 =
      fork.lower_legs.wall_area_m2 -
      2.0 * pi * fork.lower_legs.stanchion_diameter_m * std::max(0.0, middle_m);
  heat_J_ += positive_.advance(positive_volume_m3(fork, setting_.spacers, travel_m) +
                                   flaws_.given_way_m3(positive_.pressure_Pa()),
                               duration_s, room_K_,
                               conductance_W_K(positive_, fork.positive.wall, positive_wall_m2));
  heat_J_ += negative_.advance(negative_volume_m3(fork, travel_m), duration_s, room_K_,
                               conductance_W_K(negative_, fork.negative.wall, negative_wall_m2));
  heat_J_ += lower_legs_.advance(lower_leg_volume_m3(fork, travel_m), duration_s, room_K_,
                                 conductance_W_K(lower_legs_, fork.lower_legs.wall, lower_wall_m2));
  travel_m_ = travel_m;
  pass_port(duration_s);
  if (leak_per_s_ > 0.0) leak(duration_s);
}

// Flow through a sharp opening, flow = C A sqrt(2 rho dp), laminar for the smallest differences.
// Over one step the difference decays exponentially, so that the exchange never overshoots
// equality, however wide the port.
void Plant::pass_port(double duration_s) {
  if (flaws_.negative_vented) return;
  const TransferPort& port = file_.fork.port;
  const double opening = port_opening(port, travel_m_);
  if (opening <= 0.0) return;
  const double difference_Pa = positive_.pressure_Pa() - negative_.pressure_Pa();
  const Chamber& source = difference_Pa > 0.0 ? positive_ : negative_;
  const double flow_kg_sPa =
      port.discharge * port.area_m2 * opening *
      std::sqrt(2.0 * source.density_kg_m3() / (std::abs(difference_Pa) + kLaminar_Pa));
  const double stiffness_Pa_kg = kHeatRatio * (positive_.pressure_Pa() / positive_.mass_kg() +
                                               negative_.pressure_Pa() / negative_.mass_kg());
  const double rate_per_s = flow_kg_sPa * stiffness_Pa_kg;
  const double moved_kg = difference_Pa / stiffness_Pa_kg * -std::expm1(-rate_per_s * duration_s);
  const double enthalpy_J_kg = source.enthalpy_J_kg();
  positive_.exchange(-moved_kg, enthalpy_J_kg);
  negative_.exchange(moved_kg, enthalpy_J_kg);
}

void Plant::leak(double duration_s) {
  const double over = 1.0 - ambient_Pa_ / positive_.pressure_Pa();
  if (over <= 0.0) return;
  const double lost_kg = positive_.mass_kg() * leak_per_s_ * over * duration_s;
  positive_.exchange(-lost_kg, positive_.enthalpy_J_kg());
}

}  // namespace controller::virtual_rig
