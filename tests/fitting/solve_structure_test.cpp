// What a residual says once the noise is averaged away.
#include "fitting/solve/residual_structure.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "fitting/solve/fork_parameters.hpp"
#include "tests/fitting/law_records.hpp"

using namespace fitting;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

struct OneSweep {
  FitInput input;
  ParameterMap map;
  std::unique_ptr<SweepEvidence> evidence;

  explicit OneSweep(double noise_N) {
    const auto made =
        make_fit_input({law_records::sweep({.noise_N = noise_N, .rows_per_s = 80.0})});
    REQUIRE(made);
    input = *made;
    map = make_parameter_map(input, GasLaw::wall_coefficient);
    const SweepModel model{GasLaw::wall_coefficient, law_samples::geometry(),
                           law_samples::circumstances(), law_samples::kReference,
                           protocol::GasStart::equilibrium};
    evidence = std::make_unique<SweepEvidence>(input.paths[0], model, map, 0);
  }

  // Residuals by a formula, with the noise that the cells' means still have.
  template <class Formula>
  ResidualStructure of(Formula formula, double noise_N) const {
    std::mt19937_64 engine(3);
    std::normal_distribution<double> normal;
    Eigen::VectorXd residual_N(evidence->rows());
    for (int i = 0; i < evidence->rows(); ++i) {
      const PathNode& node = evidence->node(i);
      residual_N(i) = formula(node) + noise_N * normal(engine) / std::sqrt(double(node.rows));
    }
    return find_structure({evidence.get()}, {residual_N});
  }
};

}  // namespace

TEST_CASE("structure: noise alone has none", "[fit]") {
  const OneSweep sweep(1.5);
  const ResidualStructure found = sweep.of([](const PathNode&) { return 0.0; }, 1.5);
  CHECK_THAT(found.noise_N, WithinRel(1.5, 0.03));
  CHECK_THAT(found.rms_N, WithinRel(1.5, 0.03));
  // Because a bin of some 120 samples still scatters by 0.07 N.
  CHECK(found.structured_N < 0.08);
  CHECK_THAT(found.samples_per_m, WithinRel(20000.0, 0.05));  // 80 a second at 4 mm/s
}

TEST_CASE("structure: an error along the travel is found with its size, place and length",
          "[fit]") {
  const OneSweep sweep(0.5);
  const auto wave = [](const PathNode& node) {
    return 6.0 * std::sin(2.0 * 3.14159265358979 * node.travel_m / 0.100);
  };
  const ResidualStructure found = sweep.of(wave, 0.5);
  // The mean square of 1.46 waves of amplitude 6.
  CHECK_THAT(found.structured_N, WithinRel(4.3, 0.05));
  CHECK_THAT(std::abs(found.worst_N), WithinAbs(6.0, 0.2));
  CHECK(found.correlation_length_m > 0.010);
  CHECK(found.correlation_length_m < 0.080);
  CHECK_THAT(found.rms_N, WithinRel(std::hypot(found.structured_N, 0.5), 0.05));
  const auto bump = [](const PathNode& node) {
    return node.travel_m > 0.10 && node.travel_m < 0.12 ? -7.0 : 0.0;
  };
  const ResidualStructure local = sweep.of(bump, 0.0);
  CHECK(local.worst_N < -6.0);
  CHECK_THAT(local.worst_travel_m, WithinAbs(0.11, 0.01));
}

TEST_CASE("structure: strokes are not averaged against each other", "[fit]") {
  // An error that is up one way and down the other would vanish from the mean of both.
  const OneSweep sweep(0.5);
  const ResidualStructure found =
      sweep.of([](const PathNode& node) { return 4.0 * node.direction; }, 0.0);
  CHECK_THAT(found.structured_N, WithinRel(4.0, 0.01));
}

TEST_CASE("structure: samples that repeat one another weigh as few", "[fit]") {
  ResidualStructure structure;
  structure.noise_N = 2.0;
  CHECK(structure.sample_variance_N2() == 4.0);
  structure.structured_N = 1.0;
  structure.correlation_length_m = 0.01;
  structure.samples_per_m = 20000.0;
  // 400 samples lie within a correlation length to either side.
  CHECK_THAT(structure.sample_variance_N2(), WithinRel(4.0 + 400.0, 1e-12));
  structure.samples_per_m = 10.0;
  CHECK_THAT(structure.sample_variance_N2(), WithinRel(5.0, 1e-12));
}
