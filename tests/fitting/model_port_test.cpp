// The transfer port: what passes between the air chambers, what stays, and that neither the force
// nor its dependence on the port's place has steps.
#include <catch2/catch.hpp>
#include <vector>

#include "fitting/model/follow.hpp"
#include "tests/fitting/law_samples.hpp"

using namespace fitting;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

HeatLaw<double> heat_law(const LawParameters<double>& p, GasLaw form = GasLaw::wall_coefficient) {
  return {form, p, law_samples::geometry(), law_samples::circumstances(), law_samples::kReference};
}

std::vector<double> forces(const LawParameters<double>& p, const Path& path) {
  SweepModel model;
  model.geometry = law_samples::geometry();
  model.at = law_samples::circumstances();
  model.reference = law_samples::kReference;
  return follow(model, p, path);
}

double sum_kg(const LawState<double>& s) {
  return s.positive.mass_kg + s.negative.mass_kg;
}

}  // namespace

TEST_CASE("port: the chambers are equal after the band, and apart each keeps its mass", "[fit]") {
  const HeatLaw<double> law = heat_law(law_samples::fork());
  LawState<double> state = law.at_rest(0.0, 0.0);
  const double total_kg = sum_kg(state);
  const auto go = [&](double to_m) {
    const double from_m = state.travel_m;
    const int steps = static_cast<int>(std::ceil(std::abs(to_m - from_m) / 2.5e-4));
    for (int i = 1; i <= steps; ++i) {
      const double step_s = std::abs(to_m - from_m) / steps / 4e-3;
      law.advance(state, from_m + (to_m - from_m) * i / steps, state.time_s + step_s);
      REQUIRE_THAT(sum_kg(state), WithinRel(total_kg, 1e-13));
    }
  };
  for (int pass = 0; pass < 3; ++pass) {
    CAPTURE(pass);
    go(3.79e-3);  // the band is 2.6 to 3.8 mm
    // Because the pressures, which motion drives apart, lag by the port's opening of 0.1 mm.
    CHECK_THAT(law.negative_Pa(state), WithinRel(law.positive_Pa(state), 0.005));
    go(0.146);
    const double positive_kg = state.positive.mass_kg;
    CHECK(law.negative_Pa(state) < 0.5 * law.positive_Pa(state));
    go(3.81e-3);
    CHECK(state.positive.mass_kg == positive_kg);
    go(2.61e-3);
    CHECK_THAT(law.negative_Pa(state), WithinRel(law.positive_Pa(state), 0.005));
    go(0.0);
    // Sealed again, the short way to full extension drives them apart.
    CHECK(law.negative_Pa(state) > 1.02 * law.positive_Pa(state));
  }
}

TEST_CASE("port: a tank filled from a large one gets hot by the ratio of heats", "[fit][oracle]") {
  // Source: [Tank-Charging] an evacuated tank filled from a supply at T ends at gamma T, since each
  // kilogram brings its enthalpy and keeps it as energy.
  LawParameters<double> p = law_samples::fork();
  p[kPositiveVolume] = 214e-3;  // large against the negative chamber's 34.5 cm3
  p[kThermalTime] = p[kNegativeThermalTime] = p[kLowerLegThermalTime] = 1e12;
  const HeatLaw<double> law = heat_law(p, GasLaw::constant_time);
  LawState<double> state = law.at_rest(3.2e-3, 0.0);
  state.negative.mass_kg *= 1e-9;
  law.advance(state, 3.2e-3, 10.0);  // at rest inside the open band
  CHECK_THAT(law.negative_Pa(state), WithinRel(law.positive_Pa(state), 1e-9));
  // Because the supply, six thousand times as large, cools by a few hundredths of a kelvin.
  CHECK_THAT(state.negative.temperature_K, WithinRel(1.4 * 293.15, 3e-4));
  CHECK(state.positive.temperature_K < 293.15);
}

TEST_CASE("port: what stays behind in an emptying tank expands as p V^1.4", "[fit][oracle]") {
  // Source: [Tank-Charging] the gas left in a tank that empties without heat keeps its entropy:
  // T/T0 = (m/m0)^(gamma - 1).
  LawParameters<double> p = law_samples::fork();
  p[kNegativeVolume] = 0.2;  // so large and empty that the positive chamber empties into it
  p[kThermalTime] = p[kNegativeThermalTime] = p[kLowerLegThermalTime] = 1e12;
  const HeatLaw<double> law = heat_law(p, GasLaw::constant_time);
  LawState<double> state = law.at_rest(3.2e-3, 0.0);
  state.negative.mass_kg *= 1e-6;
  const double full_kg = state.positive.mass_kg;
  for (int i = 1; i <= 400; ++i) {
    law.advance(state, 3.2e-3, 1e-3 * i);
    const double share = state.positive.mass_kg / full_kg;
    CHECK_THAT(state.positive.temperature_K, WithinRel(293.15 * std::pow(share, 0.4), 1e-6));
  }
  CHECK(state.positive.mass_kg < 0.1 * full_kg);
}

TEST_CASE("port: the energy of the joined chambers is kept, whichever way the air goes", "[fit]") {
  LawParameters<double> p = law_samples::fork();
  p[kThermalTime] = p[kNegativeThermalTime] = p[kLowerLegThermalTime] = 1e12;
  const HeatLaw<double> law = heat_law(p, GasLaw::constant_time);
  const double imbalance = GENERATE(0.2, 0.9, 1.2, 5.0);
  CAPTURE(imbalance);
  LawState<double> state = law.at_rest(3.2e-3, 0.0);
  state.negative.mass_kg *= imbalance;
  const auto heat = [&] {
    return state.positive.mass_kg * state.positive.temperature_K +
           state.negative.mass_kg * state.negative.temperature_K;
  };
  const double before_kg = state.positive.mass_kg;
  const double before = heat();
  law.advance(state, 3.2e-3, 0.05);
  CHECK((state.positive.mass_kg < before_kg) == (imbalance < 1.0));
  CHECK_THAT(heat(), WithinRel(before, 1e-13));
  // The chamber that receives warms, the one that gives cools.
  CHECK((state.negative.temperature_K > 293.15) == (imbalance < 1.0));
  CHECK((state.positive.temperature_K > 293.15) == (imbalance > 1.0));
}

TEST_CASE("port: at rest nothing moves, wherever the fork rests", "[fit]") {
  const HeatLaw<double> law = heat_law(law_samples::fork());
  const double x_m = GENERATE(0.0, 0.001, 0.0026, 0.003, 0.0038, 0.004, 0.080, 0.15);
  CAPTURE(x_m);
  const LawParameters<double> p = law_samples::fork();
  const Geometry geometry = law_samples::geometry();
  const Circumstances at = law_samples::circumstances();
  const double slow_N =
      slow_spring(p, geometry, make_chambers(p, geometry, at.spacers), at, x_m).total_N();
  LawState<double> state = law.at_rest(x_m, 5.0);
  for (int i = 0; i < 100; ++i) {
    CHECK_THAT(law.force_N(state), WithinAbs(slow_N, 1e-9));
    law.advance(state, x_m, 5.0 + 0.7 * i);
  }
  CHECK_THAT(state.positive.temperature_K, WithinAbs(293.15, 1e-9));
}

TEST_CASE("port: the force has no step anywhere along the band", "[fit]") {
  const HeatLaw<double> law = heat_law(law_samples::fork());
  LawState<double> state = law.at_rest(0.0, 0.0);
  double last_N = law.force_N(state);
  double largest_N_mm = 0.0;
  for (int stroke = 0; stroke < 4; ++stroke) {
    for (int i = 1; i <= 8000; ++i) {
      const double x_m = 1e-6 * (stroke % 2 == 0 ? i : 8000 - i);
      law.advance(state, x_m, state.time_s + 1e-6 / 4e-3);
      // The first tenths of a millimetre after a reversal are friction's.
      if (i > 2000) {
        largest_N_mm = std::max(largest_N_mm, 1e3 * std::abs(law.force_N(state) - last_N));
      }
      last_N = law.force_N(state);
    }
  }
  // Because the steepest of it is the port that opens on 50 kPa over a tenth of a millimetre: some
  // 100 N/mm. A step would show as hundreds.
  CHECK(largest_N_mm < 150.0);
}

TEST_CASE("port: the slow spring is continuous over the band", "[fit]") {
  const LawParameters<double> p = law_samples::fork();
  const Geometry geometry = law_samples::geometry();
  const Circumstances at = law_samples::circumstances();
  const Chambers<double> chambers = make_chambers(p, geometry, at.spacers);
  double last_N = slow_spring(p, geometry, chambers, at, 0.0).total_N();
  for (int i = 1; i <= 8000; ++i) {
    const double now_N = slow_spring(p, geometry, chambers, at, 1e-6 * i).total_N();
    REQUIRE(std::abs(now_N - last_N) < 0.04);  // 40 N/mm
    last_N = now_N;
  }
}

TEST_CASE("port: the force does not hang on how finely the path is cut", "[fit]") {
  const LawParameters<double> p = law_samples::fork();
  const double fine_m = 2.5e-5;
  const std::vector<double> fine = forces(p, law_samples::triangle_path(0, 0.146, fine_m, 4e-3, 2));
  for (const double step_m : {1e-4, 2.5e-4, 5e-4, 1e-3}) {
    CAPTURE(step_m);
    const std::vector<double> coarse =
        forces(p, law_samples::triangle_path(0, 0.146, step_m, 4e-3, 2));
    const auto ratio = static_cast<std::size_t>(std::lround(step_m / fine_m));
    REQUIRE(coarse.size() * ratio == fine.size());
    double worst_N = 0.0;
    for (std::size_t i = 0; i < coarse.size(); ++i) {
      worst_N = std::max(worst_N, std::abs(coarse[i] - fine[ratio * (i + 1) - 1]));
    }
    // Of a largest force of some 1500 N.
    CHECK(worst_N < 0.25);
  }
}

TEST_CASE("port: the force is smooth in the port's place: no staircase for the solver", "[fit]") {
  // The port wanders by a millimetre in small steps; the force at every node must follow in even
  // steps, as a parabola through its neighbours says.
  const Path path = law_samples::triangle_path(0.0, 0.060, 2.5e-4, 4e-3, 1);
  LawParameters<double> p = law_samples::fork();
  const int steps = 200;
  std::vector<std::vector<double>> all;
  for (int i = 0; i <= steps; ++i) {
    p[kTransferTravel] = 2.7e-3 + 5e-6 * i;
    all.push_back(forces(p, path));
  }
  double range_N = 0.0;
  double roughest_N = 0.0;
  for (std::size_t node = 40; node < path.nodes.size(); ++node) {  // behind the band
    if (std::abs(path.nodes[node].travel_m - 3.2e-3) < 1.5e-3) continue;
    range_N = std::max(range_N, std::abs(all.back()[node] - all.front()[node]));
    for (std::size_t i = 1; i + 1 < all.size(); ++i) {
      roughest_N =
          std::max(roughest_N, std::abs(all[i + 1][node] - 2.0 * all[i][node] + all[i - 1][node]));
    }
  }
  // Opened at the nodes of the path, the port would move by a quarter of the range at once. What
  // is left comes from cutting the band into whole pieces.
  CHECK(range_N > 8.0);
  CHECK(roughest_N < 0.005 * range_N);
}
