// The model along a record's path, against the gas law written out by hand.
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "fitting/report/comparison_input.hpp"
#include "fitting/report/simulated_loop.hpp"
#include "protocol/units.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

constexpr double kPiston_m = 0.031;
constexpr double kShaft_m = 0.008;
constexpr double kStanchion_m = 0.034;
constexpr double kFriction_N = 12.0;
constexpr double kPresliding_m = 0.0004;

// Isothermal, transfer at the very top, constant friction: all of it can be written on one line.
FittedModel plain_model() {
  FittedModel model;
  model.fork.name = "Larch";
  model.fork.travel_m = 0.160;
  model.fork.maximum_pressure_Pa = protocol::from_unit(150.0, "psi");
  model.fork.air_spring.piston_diameter_m = kPiston_m;
  model.fork.air_spring.shaft_diameter_m = kShaft_m;
  model.fork.lower_legs.stanchion_diameter_m = kStanchion_m;
  model.law = GasLaw::exponent;
  auto& law = model.law_values;
  law[kPositiveVolume] = 205e-6;
  law[kNegativeVolume] = 33e-6;
  law[kLowerLegVolume] = 390e-6;
  law[kPreload] = 14.0;
  law[kFriction] = kFriction_N;
  law[kPreslidingTravel] = kPresliding_m;
  law[kTransferTravel] = 0.0;
  law[kTransferBand] = 1e-6;
  law[kExponent] = 1.0;
  law[kLowerLegExponent] = 1.0;
  law[kSpacerVolume] = 7e-6;
  law[kPistonDiameter] = kPiston_m;
  law[kPressureScale] = 1.0;
  model.usable = true;
  return model;
}

double circle_m2(double diameter_m) {
  return std::numbers::pi / 4.0 * diameter_m * diameter_m;
}

double gas_N(double pressure_gauge_Pa, double x_m) {
  const double ambient_Pa = protocol::kStandardAtmosphere_Pa;
  const double piston_m2 = circle_m2(kPiston_m);
  const double annulus_m2 = piston_m2 - circle_m2(kShaft_m);
  const double lower_m2 = 2.0 * circle_m2(kStanchion_m) - circle_m2(kShaft_m);
  const double filled_Pa = pressure_gauge_Pa + ambient_Pa;
  const double positive_Pa = filled_Pa * 198e-6 / (198e-6 - piston_m2 * x_m);
  const double negative_Pa = filled_Pa * 33e-6 / (33e-6 + annulus_m2 * x_m);
  const double lower_Pa = ambient_Pa * 390e-6 / (390e-6 - lower_m2 * x_m);
  return (positive_Pa - ambient_Pa) * piston_m2 - (negative_Pa - ambient_Pa) * annulus_m2 +
         (lower_Pa - ambient_Pa) * lower_m2 + 14.0;
}

protocol::SweepRecord plain_record(double pressure_gauge_Pa) {
  protocol::SweepRecord record;
  record.metadata.record_id = "one";
  record.metadata.fork = plain_model().fork;
  record.metadata.setting.pressure_gauge_Pa = pressure_gauge_Pa;
  record.metadata.setting.spacers = 1;
  for (int stroke = 0; stroke < 4; ++stroke) {
    for (int i = stroke == 0 ? 0 : 1; i <= 1400; ++i) {
      const double x_m = 1e-4 * (stroke % 2 == 0 ? i : 1400 - i);
      record.travel_m.push_back(x_m);
      record.force_N.push_back(gas_N(pressure_gauge_Pa, x_m));
    }
  }
  return record;
}

}  // namespace

TEST_CASE("simulated loop: far from a turn it is the gas and the friction, each way", "[fit]") {
  const double pressure_Pa = protocol::from_unit(81.0, "psi");
  const auto record = plain_record(pressure_Pa);
  const auto simulated_N = simulated_force_N(plain_model(), record);
  REQUIRE(simulated_N);
  REQUIRE(simulated_N->size() == record.size());
  // Second compression and second rebound stroke, away from their turns.
  for (std::size_t row = 2801; row < record.size(); ++row) {
    const double x_m = record.travel_m[row];
    if (x_m < 0.010 || x_m > 0.130) continue;
    const double friction_N = row <= 4200 ? kFriction_N : -kFriction_N;
    CAPTURE(row, x_m);
    // Straight lines between cells of a millimetre bend the curve by less than this.
    CHECK_THAT((*simulated_N)[row], WithinAbs(gas_N(pressure_Pa, x_m) + friction_N, 0.05));
  }
}

TEST_CASE("simulated loop: after a turn friction comes round within the presliding travel",
          "[fit]") {
  const double pressure_Pa = protocol::from_unit(81.0, "psi");
  const auto record = plain_record(pressure_Pa);
  const auto simulated_N = simulated_force_N(plain_model(), record);
  REQUIRE(simulated_N);
  // Row 1400 turns at 140 mm; 0.4 mm behind it friction is Fc (2/e - 1) of the way round.
  const std::size_t row = 1404;
  const double since_m = 0.140 - record.travel_m[row];
  const double friction_N = -kFriction_N + 2.0 * kFriction_N * std::exp(-since_m / kPresliding_m);
  CHECK_THAT((*simulated_N)[row],
             WithinAbs(gas_N(pressure_Pa, record.travel_m[row]) + friction_N, 0.5));
}

TEST_CASE("simulated loop: the error of a fill that the fit found is used for its record alone",
          "[fit]") {
  const double pressure_Pa = protocol::from_unit(81.0, "psi");
  const auto record = plain_record(pressure_Pa);
  FittedModel model = plain_model();
  FittedParameter fill;
  fill.name = "fill_error";
  fill.unit = "kPa";
  fill.value = 10.0;
  fill.sweep = "one";
  model.parameters = {fill};
  const auto with_N = simulated_force_N(model, record);
  model.parameters.front().sweep = "another";
  const auto without_N = simulated_force_N(model, record);
  REQUIRE(with_N);
  REQUIRE(without_N);
  const std::size_t row = 700;
  const double expected_N =
      gas_N(pressure_Pa + 10e3, record.travel_m[row]) - gas_N(pressure_Pa, record.travel_m[row]);
  CHECK_THAT((*with_N)[row] - (*without_N)[row], WithinAbs(expected_N, 0.05));
}

TEST_CASE("simulated loop: a model without air along the path says so", "[fit]") {
  FittedModel model = plain_model();
  model.law_values[kPositiveVolume] = 60e-6;
  const auto simulated_N = simulated_force_N(model, plain_record(protocol::from_unit(81.0, "psi")));
  REQUIRE_FALSE(simulated_N);
  CHECK(simulated_N.error().code == protocol::Errc::input_out_of_range);
  CHECK_THAT(simulated_N.error().message, Contains("no air left"));
}

TEST_CASE("comparison input: records that do not belong are refused", "[fit]") {
  ReportRequest request;
  request.name_a = "larch.json";
  request.name_b = "basalt.json";
  request.model_a = plain_model();
  request.model_b = plain_model();
  request.model_b.fork.name = "Basalt";
  SECTION("none given") {
    const auto input = make_comparison_input(request);
    REQUIRE_FALSE(input);
    CHECK(input.error().code == protocol::Errc::input_out_of_range);
    CHECK_THAT(input.error().message, Contains("larch.json"));
  }
  SECTION("of the other fork") {
    const auto record = plain_record(protocol::from_unit(81.0, "psi"));
    request.records_a = {{"larch-1", record}};
    request.records_b = {{"larch-2", record}};
    const auto input = make_comparison_input(request);
    REQUIRE_FALSE(input);
    CHECK(input.error().code == protocol::Errc::input_out_of_range);
    CHECK_THAT(input.error().message, Contains("larch-2") && Contains("basalt.json"));
  }
}
