// Seal friction in the force law: how it turns round after a reversal, and what a loop costs.
#include <catch2/catch.hpp>
#include <vector>

#include "fitting/model/exponent_law.hpp"
#include "tests/fitting/law_samples.hpp"

using namespace fitting;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using law_samples::SingleChamber;

namespace {

// A fork whose only force is friction, followed by either law.
class Rubbing {
 public:
  Rubbing(bool with_heat, double kinetic_N, double presliding_m) : with_heat_(with_heat) {
    one_.parameters[kFriction] = kinetic_N;
    one_.parameters[kPreslidingTravel] = presliding_m;
    state_ = one_.heat_law().at_rest(x_m_, 0.0);
  }

  // Moves and returns the friction there.
  double to(double x_m) {
    if (with_heat_) {
      one_.heat_law().advance(state_, x_m, state_.time_s + 1.0);
      friction_N_ = state_.friction_N;
    } else {
      const ExponentLaw<double> law(one_.parameters, one_.geometry, one_.at);
      const int direction = x_m >= x_m_ ? +1 : -1;
      if (direction != direction_) {
        direction_ = direction;
        turn_m_ = x_m_;
        at_turn_N_ = friction_N_;
      }
      friction_N_ =
          law.friction_N(direction, x_m - turn_m_, at_turn_N_, law.parts(x_m).positive_Pa);
    }
    x_m_ = x_m;
    return friction_N_;
  }
  double x_m() const { return x_m_; }

 private:
  bool with_heat_;
  SingleChamber one_{1e-3, 1e-3, 8e5, 101325.0};
  LawState<double> state_;
  double x_m_ = 0.3;
  double friction_N_ = 0.0;
  int direction_ = 0;
  double turn_m_ = 0.0;
  double at_turn_N_ = 0.0;
};

struct Loop {
  double area_J = 0.0;
  double largest_N = 0.0;
};

Loop settled_loop(Rubbing& fork, double middle_m, double amplitude_m) {
  const int steps = 4000;
  Loop loop;
  double last_N = 0.0;
  for (int cycle = 0; cycle < 6; ++cycle) {
    loop = {};
    for (int i = 1; i <= 2 * steps; ++i) {
      const double share = double(i <= steps ? i : 2 * steps - i) / steps;
      const double from_m = fork.x_m();
      const double now_N = fork.to(middle_m + amplitude_m * (2.0 * share - 1.0));
      loop.area_J += 0.5 * (last_N + now_N) * (fork.x_m() - from_m);
      loop.largest_N = std::max(loop.largest_N, now_N);
      last_N = now_N;
    }
  }
  return loop;
}

}  // namespace

TEST_CASE("friction: a loop has the area and the largest force of Dahl's law", "[fit][oracle]") {
  // Source: [Dahl] W = 4 Fc [X - (Fc/s) tanh(s X/Fc)], F_max = Fc tanh(s X/Fc); the presliding
  // travel is Fc/s.
  struct Row {
    double kinetic_N, stiffness_N_m, amplitude_m, work_J, largest_N;
  };
  const std::vector<Row> table = {{20.0, 1e5, 0.05, 3.984, 20.000},
                                  {20.0, 1e4, 0.002, .0381449351, 15.2318831},
                                  {50.0, 2e4, 0.1, 19.5, 50.0}};
  const bool with_heat = GENERATE(true, false);
  for (const Row& row : table) {
    CAPTURE(with_heat, row.kinetic_N, row.amplitude_m);
    Rubbing fork(with_heat, row.kinetic_N, row.kinetic_N / row.stiffness_N_m);
    const Loop loop = settled_loop(fork, 0.3, row.amplitude_m);
    // Because the trapezoids of a loop of 8000 steps keep five digits; friction itself is exact.
    CHECK_THAT(loop.area_J, WithinRel(row.work_J, 2e-5));
    CHECK_THAT(loop.largest_N, WithinRel(row.largest_N, 1e-8));
  }
}

TEST_CASE("friction: after a reversal it turns round exponentially, however the way is cut",
          "[fit]") {
  const bool with_heat = GENERATE(true, false);
  const double kinetic_N = 20.0;
  const double presliding_m = 3e-4;
  Rubbing fork(with_heat, kinetic_N, presliding_m);
  CHECK_THAT(fork.to(0.31), WithinRel(kinetic_N, 1e-9));  // thirty presliding travels on
  for (const double back_m : {1e-5, 1e-4, 2.5e-4, 6e-4}) {
    // f = -F_c + 2 F_c exp(-|x - x0|/delta).
    const double expected_N = -kinetic_N + 2.0 * kinetic_N * std::exp(-back_m / presliding_m);
    CHECK_THAT(fork.to(0.31 - back_m), WithinAbs(expected_N, 1e-9));
  }
  // Turned again half way: from what it was there, towards the other side.
  const double half_N = fork.to(0.31 - 6e-4);
  CHECK_THAT(fork.to(0.31 - 5e-4),
             WithinAbs(kinetic_N - (kinetic_N - half_N) * std::exp(-1.0 / 3.0), 1e-9));
  const double here_N = fork.to(fork.x_m());
  CHECK(fork.to(fork.x_m()) == here_N);  // at rest it stays
}

TEST_CASE("friction: it grows with the positive chamber's gauge pressure", "[fit]") {
  const LawParameters<double> p = law_samples::fork();
  const HeatLaw<double> law(GasLaw::wall_coefficient, p, law_samples::geometry(),
                            law_samples::circumstances(), law_samples::kReference);
  LawState<double> state = law.at_rest(0.0, 0.0);
  for (int i = 1; i <= 140; ++i) law.advance(state, 1e-3 * i, 0.25 * i);
  const double gauge_bar = (law.positive_Pa(state) - 101325.0) / 1e5;
  CHECK(gauge_bar > 10.0);
  // 6.5 N and 1.15 N/bar. Because the pressure rises over one presliding travel: 1e-3 of it.
  CHECK_THAT(law.force_N(state) - law.gas_force_N(state), WithinRel(6.5 + 1.15 * gauge_bar, 1e-2));
  for (int i = 1; i <= 60; ++i) law.advance(state, 0.140 - 1e-3 * i, 35.0 + 0.25 * i);
  const double later_bar = (law.positive_Pa(state) - 101325.0) / 1e5;
  CHECK_THAT(law.force_N(state) - law.gas_force_N(state),
             WithinRel(-(6.5 + 1.15 * later_bar), 1e-2));
}
