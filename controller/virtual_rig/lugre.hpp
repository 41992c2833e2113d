// Friction that remembers: the LuGre law, a bristle that bends, slips and slips more easily at
// speed.
//
//   dz/dt = v - sigma0 |v| z / (sigma0 g(v)),   sigma0 g(v) = F_c + (F_s - F_c) exp(-(v/v_s)^2)
//   F     = sigma0 z + sigma1 dz/dt + sigma2 v
//
// F_c may change from call to call (the seal is pressed on by the gas). Over a step of constant
// speed the bristle equation has an exact solution, which is what advance() uses: any step length
// is stable.
// Source of the law: [CanudasDeWit1995] Eqs. (3), (5), (6).
#pragma once

#include <cmath>

namespace controller::virtual_rig {

struct LuGreParameters {
  double bristle_stiffness_N_m = 1.5e5;  // sigma0
  double bristle_damping_Ns_m = 0.0;     // sigma1
  double viscous_Ns_m = 0.0;             // sigma2
  double static_ratio = 1.0;             // F_s / F_c
  double stribeck_speed_m_s = 1e-3;      // v_s
};

class LuGre {
 public:
  explicit LuGre(const LuGreParameters& parameters) : parameters_(parameters) {}

  // sigma0 g(v): the force of the bristles in steady sliding.
  double sliding_N(double coulomb_N, double speed_m_s) const {
    const double r = speed_m_s / parameters_.stribeck_speed_m_s;
    return coulomb_N * (1.0 + (parameters_.static_ratio - 1.0) * std::exp(-r * r));
  }

  // The whole force in steady sliding, with the sign of the speed.
  double steady_N(double coulomb_N, double speed_m_s) const {
    return std::copysign(sliding_N(coulomb_N, speed_m_s), speed_m_s) +
           parameters_.viscous_Ns_m * speed_m_s;
  }

  void advance(double coulomb_N, double distance_m, double duration_s) {
    const double speed = distance_m / duration_s;
    double step_m = 0.0;
    if (distance_m != 0.0) {
      const double sliding_N_now = sliding_N(coulomb_N, speed);
      const double steady_m =
          std::copysign(sliding_N_now, distance_m) / parameters_.bristle_stiffness_N_m;
      step_m = (steady_m - deflection_m_) * -std::expm1(-parameters_.bristle_stiffness_N_m *
                                                        std::abs(distance_m) / sliding_N_now);
    }
    deflection_m_ += step_m;
    force_N_ = parameters_.bristle_stiffness_N_m * deflection_m_ +
               parameters_.bristle_damping_Ns_m * step_m / duration_s +
               parameters_.viscous_Ns_m * speed;
  }

  double force_N() const { return force_N_; }
  // The part that remains when the motion stops.
  double bristle_N() const { return parameters_.bristle_stiffness_N_m * deflection_m_; }
  double deflection_m() const { return deflection_m_; }

 private:
  LuGreParameters parameters_;
  double deflection_m_ = 0.0;
  double force_N_ = 0.0;
};

}  // namespace controller::virtual_rig
