// The virtual rig's friction against published values and closed forms.
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/virtual_rig/lugre.hpp"

using namespace controller::virtual_rig;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

TEST_CASE("friction: steady sliding follows the published curve", "[virtual_rig][oracle]") {
  // Source: [CanudasDeWit1995] parameters of its table (from memory), steady force computed from
  // the law.
  struct Row {
    double speed_m_s, force_N;
  };
  const auto row = GENERATE(values<Row>({{1e-4, 1.4950649169},
                                         {5e-4, 1.3896003916},
                                         {1e-3, 1.1843397206},
                                         {2e-3, 1.0099578194},
                                         {5e-3, 1.0020000000},
                                         {0.01, 1.004},
                                         {0.1, 1.04},
                                         {1.0, 1.4}}));
  CAPTURE(row.speed_m_s);
  const LuGreParameters published{1e5, std::sqrt(1e5), 0.4, 1.5, 1e-3};
  LuGre friction(published);
  // Because ten decimals are printed.
  CHECK_THAT(friction.steady_N(1.0, row.speed_m_s), WithinAbs(row.force_N, 1e-10));
  CHECK_THAT(friction.steady_N(1.0, -row.speed_m_s), WithinAbs(-row.force_N, 1e-10));
  // And sliding arrives there: a millimetre is sixty times the bristles' reach.
  for (int i = 0; i < 1000; ++i) friction.advance(1.0, 1e-6, 1e-6 / row.speed_m_s);
  CHECK_THAT(friction.force_N(), WithinRel(row.force_N, 1e-9));
}

TEST_CASE("friction: without a Stribeck drop a loop has Dahl's area", "[virtual_rig][oracle]") {
  // Source: [Dahl1968] with exponent 1, closed form: W = 4 Fc (X - Fc/s tanh(s X/Fc)),
  // F_max = Fc tanh(s X/Fc).
  struct Row {
    double coulomb_N, stiffness_N_m, amplitude_m, work_J, largest_N;
  };
  const auto row = GENERATE(values<Row>({{20, 1e5, 0.05, 3.984, 20.000},
                                         {20, 1e4, 0.002, 0.0381449351, 15.2318831},
                                         {50, 2e4, 0.1, 19.5, 50.0}}));
  CAPTURE(row.coulomb_N, row.stiffness_N_m);
  LuGreParameters dahl;
  dahl.bristle_stiffness_N_m = row.stiffness_N_m;
  LuGre friction(dahl);
  constexpr int kSteps = 20000;
  double work_J = 0.0;
  double largest_N = 0.0;
  for (int stroke = 0; stroke < 12; ++stroke) {
    const double step_m = (stroke % 2 == 0 ? 2.0 : -2.0) * row.amplitude_m / kSteps;
    if (stroke == 10) work_J = 0.0;  // the last two make the steady loop
    for (int i = 0; i < kSteps; ++i) {
      const double before_N = friction.force_N();
      friction.advance(row.coulomb_N, step_m, 1e-3);
      work_J += 0.5 * (before_N + friction.force_N()) * step_m;
      largest_N = friction.force_N();
    }
    if (stroke == 10) CHECK_THAT(largest_N, WithinRel(row.largest_N, 1e-6));
  }
  // Because of the trapezoid over 20,000 steps.
  CHECK_THAT(work_J, WithinRel(row.work_J, 2e-5));
}

TEST_CASE("friction: the result does not depend on the length of the steps", "[virtual_rig]") {
  const LuGreParameters seal{1.5e5, 0.0, 0.0, 1.3, 2e-3};
  LuGre fine(seal);
  LuGre coarse(seal);
  for (int i = 0; i < 1000; ++i) fine.advance(20.0, 2e-7, 5e-5);
  coarse.advance(20.0, 2e-4, 5e-2);
  // Because each step is exact at constant speed.
  CHECK_THAT(coarse.force_N(), WithinRel(fine.force_N(), 1e-10));
}

TEST_CASE("friction: at rest the bristles hold", "[virtual_rig]") {
  LuGre friction(LuGreParameters{1.5e5, 60.0, 0.0, 1.3, 2e-3});
  friction.advance(20.0, 1e-3, 0.25);
  const double bent_m = friction.deflection_m();
  for (int i = 0; i < 100; ++i) friction.advance(20.0, 0.0, 1e-3);
  CHECK(friction.deflection_m() == bent_m);
  CHECK_THAT(friction.force_N(), WithinRel(1.5e5 * bent_m, 1e-12));
}
