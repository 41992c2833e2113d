// From the solver's numbers to the law's parameters and back, and what a fit assumes where the fork
// file is silent.
#include <catch2/catch.hpp>

#include "fitting/solve/fork_parameters.hpp"
#include "tests/fitting/law_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

FitInput input_of(const std::vector<protocol::SweepRecord>& records) {
  const auto input = make_fit_input(records);
  REQUIRE(input);
  return *input;
}

}  // namespace

TEST_CASE("parameter map: a logarithmic and a linear parameter, with their slopes", "[fit]") {
  ParameterMap map;
  map.given[kPistonDiameter] = 0.032;
  map.free = {{kPositiveVolume, Scale::logarithmic, 2e-4}, {kPreload, Scale::linear, 5.0, 10.0}};
  map.sweeps = 2;
  map.fill_errors = true;
  REQUIRE(map.size() == 4);
  Eigen::VectorXd values(4);
  values << 0.3, -0.7, 1.5, -2.0;
  CHECK_THAT(map.value_SI(values, 0), WithinRel(2e-4 * std::exp(0.3), 1e-14));
  CHECK_THAT(map.value_SI(values, 1), WithinRel(5.0 - 7.0, 1e-14));
  const LawParameters<double> second = map.law(values, 1);
  CHECK(second[kPositiveVolume] == map.value_SI(values, 0));
  CHECK(second[kPreload] == map.value_SI(values, 1));
  CHECK(second[kPistonDiameter] == 0.032);
  CHECK(second[kFillError] == -2000.0);
  CHECK(map.law(values, 0)[kFillError] == 1500.0);
  CHECK(map.position_of(kPreload) == 1);
  CHECK(map.position_of(kFriction) == -1);
  const Eigen::VectorXd slopes = map.slopes(values);
  for (int i = 0; i < 2; ++i) {
    Eigen::VectorXd up = values;
    Eigen::VectorXd down = values;
    up(i) += 1e-5;
    down(i) -= 1e-5;
    const double quotient = (map.value_SI(up, i) - map.value_SI(down, i)) / 2e-5;
    CHECK_THAT(slopes(i), WithinRel(quotient, 1e-8));
  }
}

TEST_CASE("sweep evidence: the Jacobian is the residuals' slope by the solver's numbers", "[fit]") {
  const std::vector<protocol::SweepRecord> records = {law_records::sweep({.pressure_Pa = 5e5}),
                                                      law_records::sweep({.pressure_Pa = 6e5})};
  const FitInput input = input_of(records);
  const GasLaw law = GENERATE(GasLaw::wall_coefficient, GasLaw::exponent);
  const ParameterMap map = make_parameter_map(input, law);
  const SweepModel model{law, make_geometry(input.fork),
                         make_circumstances(records[1].metadata.setting), thermal_reference(input),
                         protocol::GasStart::equilibrium};
  const SweepEvidence evidence(input.paths[1], model, map, 1);
  Eigen::VectorXd values = Eigen::VectorXd::LinSpaced(map.size(), -0.05, 0.06);
  Eigen::VectorXd residuals(evidence.rows());
  RowMatrix jacobian(evidence.rows(), map.size());
  REQUIRE(evidence.evaluate(values, residuals, &jacobian));
  for (int j = 0; j < map.size(); ++j) {
    CAPTURE(j);
    Eigen::VectorXd above(evidence.rows());
    Eigen::VectorXd below(evidence.rows());
    Eigen::VectorXd moved = values;
    moved(j) += 1e-6;
    REQUIRE(evidence.evaluate(moved, above, nullptr));
    moved(j) -= 2e-6;
    REQUIRE(evidence.evaluate(moved, below, nullptr));
    const Eigen::VectorXd quotient = (above - below) / 2e-6;
    // Because the port's pieces leave differences of three digits.
    CHECK((quotient - jacobian.col(j)).norm() <= 3e-3 * jacobian.col(j).norm());
  }
  // A cell of many rows weighs as the root of their number.
  for (int i = 0; i < evidence.rows(); ++i) {
    const double noise_N = input.paths[1].noise_N;
    CHECK_THAT(evidence.weight(i), WithinRel(std::sqrt(evidence.node(i).rows) / noise_N, 1e-12));
    CHECK(evidence.node(i).counts);
  }
}

TEST_CASE("fit input: what the sweeps have in common, and what they must have", "[fit]") {
  CHECK_FALSE(make_fit_input({}));
  std::vector<protocol::SweepRecord> records = {
      law_records::sweep({.pressure_Pa = 5e5, .spacers = 0}),
      law_records::sweep({.pressure_Pa = 6e5, .spacers = 2})};
  const FitInput input = input_of(records);
  CHECK(input.has_time);
  CHECK(input.any_spacers);
  CHECK_THAT(input.mean_pressure_gauge_Pa, WithinRel(5.5e5, 1e-12));
  CHECK_THAT(input.largest_travel_m, WithinAbs(0.146, 1e-6));
  records[1].metadata.fork.name = "Basalt 160";
  const auto mixed = make_fit_input(records);
  REQUIRE_FALSE(mixed);
  CHECK(mixed.error().code == protocol::Errc::input_out_of_range);
  CHECK_THAT(mixed.error().message, Contains("Basalt 160"));
  records[1].metadata.fork.name = records[0].metadata.fork.name;
  records[1].time_s.clear();
  CHECK_FALSE(input_of(records).has_time);  // one without a clock, and none has one
}

TEST_CASE("fit parameters: a stated tolerance is a prior, silence a wide one", "[fit]") {
  std::vector<protocol::SweepRecord> records = {law_records::sweep({})};
  protocol::AirSpring& spring = records[0].metadata.fork.air_spring;
  spring.positive_volume_m3 = protocol::Toleranced{230e-6, 3e-6};
  spring.negative_volume_m3.reset();
  const ParameterMap map = make_parameter_map(input_of(records), GasLaw::wall_coefficient);
  const FreeParameter& positive =
      map.free[static_cast<std::size_t>(map.position_of(kPositiveVolume))];
  CHECK(positive.prior_is_stated);
  CHECK_THAT(positive.prior_standard_uncertainty, WithinRel(3.0 / 230.0, 1e-12));
  CHECK(positive.centre_SI == 230e-6);
  const FreeParameter& negative =
      map.free[static_cast<std::size_t>(map.position_of(kNegativeVolume))];
  CHECK_FALSE(negative.prior_is_stated);
  CHECK(negative.prior_standard_uncertainty >= 0.5);
  CHECK(negative.centre_SI > 20e-6);
  CHECK(negative.centre_SI < 60e-6);
}

TEST_CASE("fit parameters: a clock gives thermal times, none an exponent, one way no friction",
          "[fit]") {
  std::vector<protocol::SweepRecord> records = {law_records::sweep({})};
  const FitInput timed = input_of(records);
  const ParameterMap heat = make_parameter_map(timed, GasLaw::constant_time);
  CHECK(heat.position_of(kThermalTime) >= 0);
  CHECK(heat.position_of(kExponent) == -1);
  CHECK(heat.position_of(kFriction) >= 0);
  CHECK_FALSE(heat.fill_errors);  // one fill cannot be told from the gauge
  const ParameterMap plain = make_parameter_map(timed, GasLaw::exponent);
  CHECK(plain.position_of(kThermalTime) == -1);
  CHECK(plain.position_of(kExponent) >= 0);
  records[0].metadata.single_stroke = true;
  CHECK(make_parameter_map(input_of(records), GasLaw::constant_time).position_of(kFriction) == -1);
  records.push_back(records[0]);
  CHECK(make_parameter_map(input_of(records), GasLaw::constant_time).fill_errors);
}

TEST_CASE("fit parameters: the bounds are in the solver's units, the ties between the times",
          "[fit]") {
  const FitInput input = input_of({law_records::sweep({})});
  const ParameterMap map = make_parameter_map(input, GasLaw::exponent);
  const Problem problem = make_problem(map, input);
  const int at = map.position_of(kExponent);
  const Parameter& exponent = problem.parameters[static_cast<std::size_t>(at)];
  Eigen::VectorXd values = Eigen::VectorXd::Zero(map.size());
  values(at) = exponent.low;
  CHECK_THAT(map.value_SI(values, at), WithinAbs(1.0, 1e-12));
  values(at) = exponent.high;
  CHECK_THAT(map.value_SI(values, at), WithinAbs(1.42, 1e-12));

  const ParameterMap heat = make_parameter_map(input, GasLaw::wall_coefficient);
  const Problem tied = make_problem(heat, input);
  Eigen::VectorXd all_slower = Eigen::VectorXd::Zero(heat.size());
  for (const LawIndex time : {kThermalTime, kNegativeThermalTime, kLowerLegThermalTime}) {
    all_slower(heat.position_of(time)) = 0.8;
  }
  Eigen::VectorXd one_slower = Eigen::VectorXd::Zero(heat.size());
  one_slower(heat.position_of(kNegativeThermalTime)) = 0.8;
  // Together they may move; apart they are held to a factor of e^0.5.
  CHECK_THAT(cost_at(tied, one_slower), WithinRel(0.5 * 0.8 * 0.8 / 0.25, 1e-9));
  CHECK(cost_at(tied, all_slower) < 0.2);
}

TEST_CASE("bench doubt: the worst instrument counts, and what was not calibrated", "[fit]") {
  std::vector<protocol::SweepRecord> records = {law_records::sweep({}), law_records::sweep({})};
  records[1].metadata.doubt.gain_relative = 0.01;
  records[0].metadata.doubt.zero_N = 2.5;
  const BenchDoubt doubt = bench_doubt(input_of(records), GasLaw::wall_coefficient);
  CHECK(doubt.gain_relative == 0.01);
  CHECK(doubt.zero_N == 2.5);
  CHECK(doubt.travel_relative > 0.0);
  CHECK(doubt.frame_m_N > 0.0);
  // Two fills are read twice.
  CHECK_THAT(doubt.gauge_reading_Pa, WithinRel(3447.0 / std::sqrt(2.0), 1e-12));
  CHECK(doubt.rod_area_m2 == 0.0);  // the fork file gives the rod
  for (protocol::SweepRecord& record : records) {
    record.metadata.travel_calibration.emplace();
    record.metadata.frame_calibration.emplace();
    record.metadata.fork.damper_rod_diameter_m.reset();
  }
  const BenchDoubt calibrated = bench_doubt(input_of(records), GasLaw::wall_coefficient);
  CHECK(calibrated.travel_relative == 0.0);
  CHECK(calibrated.frame_m_N == 0.0);
  CHECK(calibrated.rod_area_m2 > 0.0);
}
