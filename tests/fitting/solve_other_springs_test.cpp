// Springs of coils, from straight lines, Coulomb friction that turns round and the isothermal air
// of lower legs, none of which is the product's law.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "fitting/model/predict.hpp"
#include "fitting/solve/fork_fit.hpp"
#include "protocol/record/fork_file.hpp"

using namespace fitting;
using Catch::Matchers::WithinAbs;

namespace {

// Every number of these springs is invented.
struct Coil {
  double rate_N_m = 9.2e3;
  double second_rate_N_m = 0.0;  // whole; 0: none
  double second_from_m = 0.0;
  double top_out_N_m = 0.0;
  double top_out_m = 0.0;
  double preload_N = 35.0;
  double friction_N = 14.0;
  double presliding_m = 2.5e-4;
  double legs_m3 = 0.0;  // 0: none
  double legs_m2 = 0.0;
  double to_m = 0.150;

  double spring_N(double x_m) const {
    double out = preload_N + rate_N_m * x_m;
    if (second_rate_N_m > 0.0) {
      out += (second_rate_N_m - rate_N_m) * std::max(0.0, x_m - second_from_m);
    }
    out -= top_out_N_m * std::max(0.0, top_out_m - x_m);
    if (legs_m3 > 0.0) {
      out += protocol::kStandardAtmosphere_Pa * legs_m2 * (legs_m3 / (legs_m3 - legs_m2 * x_m) - 1);
    }
    return out;
  }
};

protocol::SweepRecord sweep(const Coil& coil, const protocol::Fork& fork, unsigned seed) {
  protocol::SweepRecord out;
  out.metadata.record_id = "coil-" + std::to_string(seed);
  out.metadata.fork = fork;
  out.metadata.origin = "sweep";
  out.metadata.state = protocol::RecordState::complete;
  out.metadata.conditioning_cycles = 1;
  out.metadata.setting.vent.temperature_K = out.metadata.setting.temperature_K;
  std::mt19937_64 engine(seed);
  std::normal_distribution<double> noise_N(0.0, 1.0);
  const double speed_m_s = 4e-3;
  const double row_s = 0.0125;
  const auto rows = static_cast<int>(coil.to_m / speed_m_s / row_s);
  double time_s = 0.0;
  double friction_N = 0.0;
  for (int stroke = 0; stroke < 8; ++stroke) {
    const double direction = stroke % 2 == 0 ? 1.0 : -1.0;
    const double at_turn_N = friction_N;
    for (int i = 1; i <= rows; ++i) {
      const double moved_m = coil.to_m * i / rows;
      const double x_m = stroke % 2 == 0 ? moved_m : coil.to_m - moved_m;
      friction_N = direction * coil.friction_N - (direction * coil.friction_N - at_turn_N) *
                                                     std::exp(-moved_m / coil.presliding_m);
      out.time_s.push_back(time_s += row_s);
      out.travel_m.push_back(x_m);
      out.force_N.push_back(coil.spring_N(x_m) + friction_N + noise_N(engine));
      out.stroke.push_back(stroke);
    }
  }
  return out;
}

protocol::Fork fork_of(const std::string& text) {
  const auto fork = protocol::parse_fork(text, "fork.toml");
  REQUIRE(fork);
  return *fork;
}

const char* const kCoilFork =
    "name = \"Rowan 160\"\ntravel = \"160 mm\"\nkind = \"coil\"\n"
    "damper_rod_diameter = \"10 mm\"\n"
    "[coil_spring]\nrate = \"8 N/mm\"\n"
    "[lower_legs]\nstanchion_diameter = \"35 mm\"\nvolume = \"420 cm3 +/- 10 cm3\"\n";
const char* const kCoilShock =
    "name = \"Slate 65\"\ntravel = \"65 mm\"\nkind = \"coil_shock\"\n[coil_spring]\n";

double area_m2(double diameter_m) {
  return 3.14159265358979 / 4.0 * diameter_m * diameter_m;
}

Coil coil_fork() {
  Coil out;
  out.legs_m3 = 415e-6;
  // Two stanchions less the damper's rod; a coil has no air shaft.
  out.legs_m2 = 2.0 * area_m2(35e-3) - area_m2(10e-3);
  return out;
}

FittedModel fit(const Coil& coil, const std::string& file) {
  const protocol::Fork fork = fork_of(file);
  const auto model = fit_fork({sweep(coil, fork, 3), sweep(coil, fork, 4)});
  REQUIRE(model);
  return *model;
}

const FittedParameter* find(const FittedModel& model, const std::string& name) {
  for (const FittedParameter& parameter : model.parameters) {
    if (parameter.name == name) return &parameter;
  }
  return nullptr;
}

void check(const FittedModel& model, const std::string& name, double truth, double doubt_max) {
  const FittedParameter* found = find(model, name);
  REQUIRE(found != nullptr);
  CAPTURE(name, found->value, found->standard_uncertainty, found->reason);
  CHECK(found->status == ParameterStatus::fitted);
  CHECK(std::abs(found->value - truth) <= 3.0 * found->standard_uncertainty);
  CHECK(found->standard_uncertainty < doubt_max);
}

}  // namespace

TEST_CASE("other springs: a coil fork's rate, preload, friction and lower legs", "[fit]") {
  const FittedModel model = fit(coil_fork(), kCoilFork);
  CAPTURE(model.warnings);
  CHECK(model.usable);
  check(model, "coil_rate", 9.2, 0.15);
  check(model, "preload", 35.0, 5.0);
  check(model, "friction_mid_travel", 14.0, 3.0);
  CHECK(find(model, "positive_volume") == nullptr);
  CHECK(find(model, "friction_per_bar") == nullptr);
  CHECK(find(model, "fill_error") == nullptr);
  // One rate explains the record: nothing more is chosen.
  CHECK(find(model, "added_rate") == nullptr);
}

TEST_CASE("other springs: a second rate and a top-out spring are found where they are", "[fit]") {
  Coil coil;
  coil.rate_N_m = 72e3;
  coil.second_rate_N_m = 95e3;
  coil.second_from_m = 38e-3;
  coil.top_out_N_m = 40e3;
  coil.top_out_m = 5e-3;
  coil.preload_N = 250.0;
  coil.to_m = 0.060;
  const FittedModel model = fit(coil, kCoilShock);
  CAPTURE(model.warnings);
  CHECK(model.usable);
  check(model, "coil_rate", 72.0, 1.0);
  check(model, "added_rate", 23.0, 1.5);
  check(model, "added_rate_from", 38.0, 1.0);
  check(model, "top_out_rate", 40.0, 8.0);
  check(model, "top_out_travel", 5.0, 0.5);
  CHECK(find(model, "lower_leg_volume") == nullptr);

  const auto told = predict(model, like_fitted(model, 0.0, 0));
  REQUIRE(told);
  for (const double travel_m : {0.010, 0.030, 0.050}) {
    const auto at = static_cast<std::size_t>(std::lround(travel_m / 5e-4));
    CAPTURE(travel_m);
    CHECK_THAT(told->spring_N[at],
               WithinAbs(coil.spring_N(travel_m), 3.0 * told->spring_standard_uncertainty_N[at]));
  }
  REQUIRE(told->elements.size() == 4);
  CHECK(told->elements[0].name == "coil");
  CHECK(told->elements[1].name == "top-out spring");
}

TEST_CASE("other springs: a coil takes no pressure", "[fit]") {
  const FittedModel model = fit(coil_fork(), kCoilFork);
  const auto told = predict(model, like_fitted(model, 5e5, 0));
  REQUIRE_FALSE(told);
  CHECK(told.error().message.find("has a coil") != std::string::npos);
}
