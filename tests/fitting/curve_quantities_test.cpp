// Single numbers of a curve against forces, rates, work and losses that are known in closed form.
#include "fitting/curve/quantities.hpp"

#include <catch2/catch.hpp>

#include "fitting/curve/curve_json.hpp"
#include "tests/fitting/made_records.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr double kPi = 3.14159265358979323846;

// One sealed chamber above the atmosphere: F = (p0 (V0 / (V0 - A x))^n - p_a) A.
double chamber_N(double x, double exponent) {
  const double area_m2 = 1.000e-3;
  const double volume_m3 = 2.500e-4;
  const double ratio = volume_m3 / (volume_m3 - area_m2 * x);
  return (801325.0 * std::pow(ratio, exponent) - 101325.0) * area_m2;
}

// A curve without doubt, on the grid of all curves.
Curve exact_curve(double to_m, const std::function<double(double)>& force) {
  Curve curve;
  curve.grid_step_m = 0.0005;
  const long n = std::lround(to_m / curve.grid_step_m) + 1;
  curve.force_N.resize(n);
  curve.covariance_N2 = Eigen::MatrixXd::Zero(n, n);
  for (long i = 0; i < n; ++i) {
    curve.travel_m.push_back(static_cast<double>(i) * curve.grid_step_m);
    curve.force_N(i) = force(curve.travel_m.back());
  }
  return curve;
}

protocol::InstrumentDoubt no_doubt() {
  protocol::InstrumentDoubt doubt;
  doubt.gain_relative = doubt.zero_N = doubt.travel_zero_m = 0.0;
  return doubt;
}

double value_of(const std::vector<Quantity>& quantities, const std::string& name) {
  const Quantity* quantity = find_quantity(quantities, name);
  INFO(name);
  REQUIRE(quantity != nullptr);
  REQUIRE(quantity->value.has_value());
  return *quantity->value;
}

double doubt_of(const std::vector<Quantity>& quantities, const std::string& name) {
  const Quantity* quantity = find_quantity(quantities, name);
  INFO(name);
  REQUIRE(quantity != nullptr);
  REQUIRE(quantity->standard_uncertainty.has_value());
  return *quantity->standard_uncertainty;
}

// A closed path through one cycle.
struct Path {
  std::vector<double> travel_m;
  std::vector<double> force_N;
};

Path harmonic(double amplitude_m, int points,
              const std::function<double(double x, double phase)>& force) {
  Path path;
  for (int i = 0; i < points; ++i) {
    const double phase = 2.0 * kPi * i / points;
    path.travel_m.push_back(amplitude_m * std::sin(phase));
    path.force_N.push_back(force(path.travel_m.back(), phase));
  }
  return path;
}

}  // namespace

TEST_CASE("quantities: force, rate and work of a sealed chamber", "[fit][oracle]") {
  // Source: [Single-Chamber] force and rate at 0, 25, 50, 100, 150 mm, and net work to 150 mm, with
  // the atmosphere subtracted; computed from the closed form.
  struct Row {
    double exponent;
    double force_N[5];
    double rate_N_mm[5];
    double work_J;
  };
  const auto row = GENERATE(values<Row>({
      {1.0,
       {700.0000, 789.0361, 900.3313, 1234.2167, 1901.9875},
       {3.20530, 3.95716, 5.00828, 8.90361, 20.03312},
       168.36292},
      {1.3,
       {700.0000, 817.6283, 969.6805, 1455.4006, 2535.7999},
       {4.16689, 5.30951, 6.96154, 13.49162, 34.28262},
       196.07206},
      {1.4,
       {700.0000, 827.3616, 993.8480, 1536.9882, 2788.8538},
       {4.48742, 5.77849, 7.66621, 15.29092, 40.46250},
       206.51782},
  }));
  CAPTURE(row.exponent);
  const Curve curve = exact_curve(0.150, [&](double x) { return chamber_N(x, row.exponent); });
  const Rate rate = local_rate(curve);
  const double travels_m[] = {0.0, 0.025, 0.050, 0.100, 0.150};
  for (int k = 0; k < 5; ++k) {
    CAPTURE(travels_m[k]);
    const auto i = static_cast<std::size_t>(std::lround(travels_m[k] / 0.0005));
    // Because the table prints four decimals.
    CHECK_THAT(*force_at(curve.travel_m, curve.force_N, travels_m[k]),
               WithinAbs(row.force_N[k], 6e-5));
    // Because a parabola over 7 mm misses the third derivative: F''' (3.5 mm)^2 / 10 inside, more
    // at the ends, where it is read off its centre.
    const double allowed = k == 0 || k == 4 ? 0.02 : 0.002;
    CHECK_THAT(rate.rate_N_m[i] * 1e-3, WithinRel(row.rate_N_mm[k], allowed));
  }
  const std::vector<Quantity> quantities =
      curve_quantities(curve, {0.150, std::nullopt, no_doubt()});
  // Because trapezoids over h miss h^2 / 12 (F'(150) - F'(0)): below 1e-3 J here, and the table
  // prints five decimals.
  CHECK_THAT(value_of(quantities, "work_to_full_travel_J"), WithinAbs(row.work_J, 1e-3));
}

TEST_CASE("quantities: work of an isothermal compression", "[fit][oracle]") {
  // Source: [Isothermal-Work] 100 kPa, 0.4 m3 to 0.1 m3: 55.45 kJ put in. Here with a piston of
  // 1 m2 and nothing outside.
  const Curve curve = exact_curve(0.3, [](double x) { return 100e3 * 0.4 / (0.4 - x); });
  const std::optional<double> work = work_J(curve.travel_m, curve.force_N, 0.0, 0.3);
  REQUIRE(work);
  // Because the source prints 10 J, and the exact value is 55451.7744 J.
  CHECK_THAT(*work * 1e-3, WithinAbs(55.45, 0.005));
  CHECK_THAT(*work, WithinAbs(55451.7744, 0.1));
}

TEST_CASE("quantities: the loop's area is the published loss of each kind of damping",
          "[fit][oracle]") {
  // Source: [Loop-Loss] per cycle of amplitude X: Coulomb 4 F X, viscous pi c w X^2, structural
  // pi k eta X^2.
  const double amplitude_m = 0.05;
  const int points = 20000;
  const Path coulomb = harmonic(amplitude_m, points, [](double x, double phase) {
    return 9000.0 * x + (std::cos(phase) >= 0.0 ? 20.0 : -20.0);
  });
  // Because the jump at each turn is a row wide: 20 N over X (2 pi / points)^2 is nothing.
  CHECK_THAT(loop_area_J(coulomb.travel_m, coulomb.force_N), WithinRel(4.0 * 20.0 * 0.05, 1e-6));
  const double c_N_s_m = 250.0;
  const double w_rad_s = 0.8;
  const Path viscous = harmonic(amplitude_m, points, [&](double x, double phase) {
    return 9000.0 * x + c_N_s_m * w_rad_s * amplitude_m * std::cos(phase);
  });
  CHECK_THAT(loop_area_J(viscous.travel_m, viscous.force_N),
             WithinRel(kPi * c_N_s_m * w_rad_s * amplitude_m * amplitude_m, 1e-6));
  const double eta = 0.04;
  const Path structural = harmonic(amplitude_m, points, [&](double x, double phase) {
    return 9000.0 * x + 9000.0 * eta * amplitude_m * std::cos(phase);
  });
  CHECK_THAT(loop_area_J(structural.travel_m, structural.force_N),
             WithinRel(kPi * 9000.0 * eta * amplitude_m * amplitude_m, 1e-6));
}

TEST_CASE("quantities: the loop's area of presliding friction", "[fit][oracle]") {
  // Source: [Dahl] i = 1, steady loop between -X and X: W = 4 Fc [X - (Fc/s) tanh(s X / Fc)].
  struct Row {
    double friction_N;
    double stiffness_N_m;
    double amplitude_m;
    double area_J;
    double printed_J;  // half a unit of the last digit
  };
  const auto row = GENERATE(values<Row>({{20.0, 1e5, 0.05, 3.984, 5e-4},
                                         {20.0, 1e4, 0.002, 0.0381449351, 5e-11},
                                         {50.0, 2e4, 0.1, 19.5, 5e-2}}));
  CAPTURE(row.friction_N, row.stiffness_N_m, row.amplitude_m);
  const double length_m = row.friction_N / row.stiffness_N_m;
  const double turn_N = row.friction_N * std::tanh(row.amplitude_m / length_m);
  Path path;
  const int points = 200000;
  for (int direction : {+1, -1}) {
    for (int i = 0; i < points; ++i) {
      const double gone_m = 2.0 * row.amplitude_m * i / points;
      path.travel_m.push_back(direction * (gone_m - row.amplitude_m));
      path.force_N.push_back(
          direction * (row.friction_N - (row.friction_N + turn_N) * std::exp(-gone_m / length_m)));
    }
  }
  // Because trapezoids over 1e-6 m of a curve with a length of 1e-4 m and more miss 1e-5 of it.
  const double trapezoids_J = row.area_J * 1e-6;
  CHECK_THAT(loop_area_J(path.travel_m, path.force_N),
             WithinAbs(row.area_J, row.printed_J + trapezoids_J));
}

TEST_CASE("quantities: loss in percent is of the work put in, as published for disc springs",
          "[fit][oracle]") {
  // Source: [Disc-Springs] table 1, loading 2831 N without infill: work of loading and unloading,
  // loss in J and in percent, largest displacement.
  struct Row {
    double load_J;
    double unload_J;
    double loss_J;
    double percent;
    double largest_mm;
  };
  const auto row = GENERATE(values<Row>({{3.03, 2.58, 0.45, 14.74, 2.79},
                                         {5.40, 4.76, 0.65, 11.95, 4.35},
                                         {1.72, 1.38, 0.33, 19.31, 1.67},
                                         {1.59, 1.23, 0.36, 22.78, 2.40}}));
  CAPTURE(row.load_J);
  const double x_m = row.largest_mm * 1e-3;
  made::Sweep plan;
  plan.high_m = x_m;
  plan.speed_m_s = 1e-4;
  plan.rows_per_s = 1e-4 / (x_m / 2000.0);
  // Straight up and straight down: the work is half of force times travel.
  const protocol::SweepRecord record = made::sweep(plan, [&](double x, int direction) {
    return 2.0 * (direction > 0 ? row.load_J : row.unload_J) * x / (x_m * x_m);
  });
  LoopOptions fine;
  fine.grid_step_m = 0.0001;
  const auto loop = make_loop(record, fine);
  REQUIRE(loop);
  const auto quantities = loop_quantities(record, *loop);
  REQUIRE(quantities);
  // Because the rows of the table agree with each other to 0.010 J and 0.283 %, and a loss that is
  // 0.010 J off moves the percentage by as much of the work.
  CHECK_THAT(value_of(*quantities, "loss_per_cycle_J"), WithinAbs(row.loss_J, 0.010 + 0.001));
  CHECK_THAT(value_of(*quantities, "loss_percent"),
             WithinAbs(row.percent, 0.283 + 100.0 * 0.010 / row.load_J));
}

TEST_CASE("quantities: a sweep's single numbers are those of its law", "[fit]") {
  const auto spring = [](double x) { return -40.0 + 12000.0 * x + 4.0e5 * std::pow(x - 0.06, 3); };
  const double zero_at_2_N = spring(0.002);
  const protocol::SweepRecord record =
      made::sweep({}, [&](double x, int direction) { return spring(x) + direction * 15.0; });
  const auto loop = make_loop(record);
  REQUIRE(loop);
  QuantityOptions options;
  options.load_N = 400.0;
  options.work_travel_m = 0.1;
  const auto quantities = loop_quantities(record, *loop, options);
  REQUIRE(quantities);
  // Because cells of 0.5 mm miss the cubic by millinewtons.
  CHECK_THAT(value_of(*quantities, "force_at_2_mm_N"), WithinAbs(zero_at_2_N, 0.05));
  CHECK_THAT(value_of(*quantities, "force_at_5_mm_N"), WithinAbs(spring(0.005), 0.05));
  // Zero: a force of 0.05 N over a rate of 40 N/mm.
  const double free_mm = value_of(*quantities, "free_extension_mm");
  CHECK_THAT(spring(free_mm * 1e-3), WithinAbs(0.0, 0.2));
  const double sag_mm = value_of(*quantities, "sag_mm");
  CHECK_THAT(spring(sag_mm * 1e-3), WithinAbs(400.0, 0.05));
  CHECK_THAT(value_of(*quantities, "sag_percent"), WithinRel(100.0 * sag_mm / 150.0, 1e-12));
  const double sag_off_m = sag_mm * 1e-3 - 0.06;
  CHECK_THAT(value_of(*quantities, "rate_at_sag_N_per_mm"),
             WithinAbs(12.0 + 1200.0 * sag_off_m * sag_off_m, 0.02));
  CHECK_THAT(value_of(*quantities, "lowest_rate_at_mm"), WithinAbs(60.0, 1.5));
  // Because a parabola over 7 mm adds F''' (3.5 mm)^2 / 10 = 0.003 N/mm to the lowest 12.
  CHECK_THAT(value_of(*quantities, "lowest_rate_N_per_mm"), WithinAbs(12.0, 0.01));
  const double ramp = (spring(0.15) - spring(0.1)) / (spring(0.1) - spring(0.05));
  CHECK_THAT(value_of(*quantities, "ramp_ratio"), WithinAbs(ramp, 0.01));
  CHECK_THAT(value_of(*quantities, "loss_per_cycle_J"), WithinRel(2.0 * 15.0 * 0.15, 0.01));
  CHECK_THAT(value_of(*quantities, "half_loop_mid_travel_N"), WithinAbs(15.0, 0.01));
  const auto primitive = [](double x) {
    return -40.0 * x + 6000.0 * x * x + 1.0e5 * std::pow(x - 0.06, 4);
  };
  CHECK_THAT(value_of(*quantities, "work_to_travel_J"),
             WithinAbs(primitive(0.1) - primitive(0.0), 0.02));
  CHECK_THAT(find_quantity(*quantities, "half_loop_mid_travel_N")->note, Contains("upper bound"));
}

TEST_CASE("quantities: breakaway is the force where sliding starts", "[fit]") {
  made::Sweep plan;
  plan.rows_per_s = 80.0;
  plan.force_noise_N = 0.5;
  const double presliding_m = 0.0004;
  double direction_force_N = 0.0;
  // Friction turns round within 0.4 mm in a straight line, then slides at 20 N.
  protocol::SweepRecord record = made::sweep(plan, [&](double x, int direction) {
    const double gone_m = direction > 0 ? x : 0.150 - x;
    direction_force_N = direction * (-20.0 + 40.0 * std::min(1.0, gone_m / presliding_m));
    return 90.0 + 4000.0 * x + direction_force_N;
  });
  const auto loop = make_loop(record);
  REQUIRE(loop);
  const auto quantities = loop_quantities(record, *loop);
  REQUIRE(quantities);
  // Because the knee is looked for in steps of 0.05 mm in rows of 0.05 mm, with 0.5 N of noise.
  CHECK_THAT(value_of(*quantities, "breakaway_force_N"),
             WithinAbs(90.0 + 4000.0 * presliding_m + 20.0, 1.0));
}

TEST_CASE("quantities: instruments stand in the uncertainty as they act", "[fit]") {
  const Curve curve = exact_curve(0.150, [](double x) { return 100.0 + 8000.0 * x; });
  protocol::InstrumentDoubt doubt = no_doubt();
  QuantityOptions options;
  options.load_N = 500.0;
  const auto with = [&](double gain, double zero_N, double travel_m) {
    doubt.gain_relative = gain;
    doubt.zero_N = zero_N;
    doubt.travel_zero_m = travel_m;
    return curve_quantities(curve, {0.150, std::nullopt, doubt}, options);
  };
  // Because the curve is straight, all of these are exact but for rounding.
  CHECK_THAT(doubt_of(with(0.01, 0, 0), "force_at_5_mm_N"), WithinRel(1.40, 1e-9));
  CHECK_THAT(doubt_of(with(0, 2.0, 0), "force_at_5_mm_N"), WithinRel(2.0, 1e-9));
  CHECK_THAT(doubt_of(with(0, 0, 0.0002), "force_at_5_mm_N"), WithinRel(1.6, 1e-9));
  CHECK_THAT(doubt_of(with(0.01, 0, 0), "sag_mm"), WithinRel(5.0 / 8.0, 1e-9));
  CHECK_THAT(doubt_of(with(0, 0, 0.0002), "sag_mm"), WithinRel(0.2, 1e-9));
  // A ratio of rates knows neither gain nor zero.
  CHECK_THAT(doubt_of(with(0.01, 5.0, 0), "ramp_ratio"), WithinAbs(0.0, 1e-9));
  // Work: gain in proportion; zero over the length, to one cell.
  CHECK_THAT(doubt_of(with(0.01, 0, 0), "work_to_full_travel_J"),
             WithinRel(0.01 * value_of(with(0, 0, 0), "work_to_full_travel_J"), 0.01));
  CHECK_THAT(doubt_of(with(0, 2.0, 0), "work_to_full_travel_J"), WithinRel(0.3, 0.01));
}

TEST_CASE("quantities: what a record does not hold is absent, with the reason", "[fit]") {
  made::Sweep plan;
  plan.low_m = 0.004;
  plan.high_m = 0.060;
  plan.cycles = 1;
  protocol::SweepRecord record =
      made::sweep(plan, [](double x, int d) { return 200.0 + 3000.0 * x + 9.0 * d; });
  record.metadata.fork.travel_m = 0.150;
  const auto loop = make_loop(record);
  REQUIRE(loop);
  QuantityOptions options;
  options.load_N = 900.0;
  const auto quantities = loop_quantities(record, *loop, options);
  REQUIRE(quantities);
  const auto missing = [&](const char* name, const char* why) {
    const Quantity* quantity = find_quantity(*quantities, name);
    INFO(name);
    REQUIRE(quantity != nullptr);
    CHECK_FALSE(quantity->value.has_value());
    CHECK_THAT(quantity->note, Contains(why));
  };
  missing("force_at_2_mm_N", "covers 4.0 mm to 60.0 mm");
  missing("free_extension_mm", "does not reach zero");
  missing("sag_mm", "no travel carries 900.0 N");
  missing("half_loop_mid_travel_N", "75.0 mm");
  missing("repeatability_N", "needs two measured cycles");
}

TEST_CASE("quantities: the curve's JSON has arrays of one length and no invalid numbers", "[fit]") {
  const protocol::SweepRecord record =
      made::sweep({}, [](double x, int d) { return 50.0 + 3000.0 * x + 9.0 * d; });
  const auto answer = answer_curve("larch.csv", record);
  REQUIRE(answer);
  const nlohmann::json json = nlohmann::json::parse(curve_json({*answer, *answer}).dump());
  REQUIRE(json["curves"].size() == 2);
  const nlohmann::json& curve = json["curves"][0];
  CHECK(curve["record"] == "larch.csv");
  const std::size_t n = curve["travel_mm"].size();
  CHECK(n > 290);
  for (const char* name : {"compression_N", "rebound_N", "midline_N", "half_loop_N", "valid",
                           "midline_standard_uncertainty_N", "half_loop_standard_uncertainty_N"}) {
    CAPTURE(name);
    CHECK(curve[name].size() == n);
  }
  CHECK(curve["speed_dependent"].is_null());
  CHECK(curve["strokes"].size() == 6);
  CHECK(curve["quantities"]["force_at_5_mm_N"]["value"].is_number());
  CHECK(curve["quantities"]["repeatability_N"]["value"].is_number());

  protocol::SweepRecord still = record;
  for (double& x : still.travel_m) x = 0.01;
  const auto refused = answer_curve("still.csv", still);
  REQUIRE_FALSE(refused);
  CHECK_THAT(refused.error().message, Contains("still.csv: "));
}
