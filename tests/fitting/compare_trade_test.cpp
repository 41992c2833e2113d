// What tuners know of forks, asked of the model: common practice, no source. Bounds come from the
// gas laws where they can.
#include <catch2/catch.hpp>
#include <cmath>

#include "fitting/compare/contributions.hpp"
#include "fitting/compare/matched_sag.hpp"
#include "tests/fitting/hand_made_model.hpp"

using namespace fitting;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

const Geometry kGeometry = law_samples::geometry();
constexpr double kSag_m = 0.032;

double spring_N(const LawParameters<double>& p, const Circumstances& at, double x_m) {
  return slow_spring(p, kGeometry, make_chambers(p, kGeometry, at.spacers), at, x_m).total_N();
}

Circumstances setting(int spacers = 0) {
  Circumstances out;
  out.pressure_gauge_Pa = 550e3;
  out.spacers = spacers;
  return out;
}

// Travel at which the fork carries nothing.
double free_extension_m(const LawParameters<double>& p, const Circumstances& at) {
  double low_m = -0.01;
  double high_m = 0.05;
  for (int i = 0; i < 60; ++i) {
    const double middle_m = 0.5 * (low_m + high_m);
    (spring_N(p, at, middle_m) > 0.0 ? high_m : low_m) = middle_m;
  }
  return 0.5 * (low_m + high_m);
}

}  // namespace

TEST_CASE("trade: spacers change mainly the last part of the travel", "[compare]") {
  const auto p = law_samples::fork();
  const auto gained_N = [&](double x_m) {
    return spring_N(p, setting(3), x_m) - spring_N(p, setting(0), x_m);
  };
  CHECK(gained_N(kSag_m) > 0.0);
  CHECK(gained_N(0.140) > 10.0 * gained_N(kSag_m));
}

TEST_CASE("trade: a transfer point further down softens the very start", "[compare]") {
  auto p = law_samples::fork();
  p[kTransferTravel] = 2e-3;
  const double early_N = spring_N(p, setting(), 1e-3);
  p[kTransferTravel] = 8e-3;
  CHECK(spring_N(p, setting(), 1e-3) < early_N - 5.0);
}

TEST_CASE("trade: a smaller piston needs a higher pressure for the same load, as its area",
          "[compare]") {
  // Volumes and shaft scale with the piston; the travel is the same.
  const double share = 0.85;
  const FittedModel large = hand_made::model();
  FittedModel small = large;
  small.fork.maximum_pressure_Pa *= 2.0;
  small.fork.air_spring.shaft_diameter_m *= std::sqrt(share);
  small.law_values[kPistonDiameter] *= std::sqrt(share);
  for (LawIndex index : {kPositiveVolume, kNegativeVolume, kSpacerVolume}) {
    small.law_values[index] *= share;
  }
  const double load_N = 430.0;
  const auto for_large = pressure_for_sag_Pa(model_subject(large, 550e3, 0), kSag_m, load_N);
  const auto for_small = pressure_for_sag_Pa(model_subject(small, 550e3, 0), kSag_m, load_N);
  REQUIRE(for_large);
  REQUIRE(for_small);
  // The air around does not scale: of its pressure's rise over the travel to sag, a quarter of
  // 101 kPa, the smaller piston lacks 15 %, against 550 kPa.
  CHECK_THAT(*for_small / *for_large, WithinRel(1.0 / share, 0.015));
}

TEST_CASE("trade: height or warmth after the last vent firms the start like preload", "[compare]") {
  const auto p = law_samples::fork();
  Circumstances high = setting();
  high.ambient_Pa = 80e3;  // pumped and vented at sea level
  const double lost_Pa = protocol::kStandardAtmosphere_Pa - high.ambient_Pa;
  const auto gained_N = [&](double x_m) {
    return spring_N(p, high, x_m) - spring_N(p, setting(), x_m);
  };
  // On the lower legs and on the air shaft the air around presses less, at every travel alike.
  const double shaft_m2 = circle_area_m2(kGeometry.shaft_diameter_m);
  const double legs_m2 = kGeometry.lower_area_m2 - p[kDamperRodArea];
  CHECK_THAT(gained_N(1e-3), WithinRel(lost_Pa * (shaft_m2 + legs_m2), 1e-9));
  CHECK_THAT(gained_N(0.100), WithinRel(gained_N(1e-3), 1e-9));

  Circumstances warm = setting();
  warm.temperature_K = warm.pumped_temperature_K + 20.0;  // vented cold
  CHECK(spring_N(p, warm, 1e-3) > spring_N(p, setting(), 1e-3) + 5.0);
}

TEST_CASE("trade: lower legs vented compressed soften the fork and cost travel at the top",
          "[compare]") {
  const auto p = law_samples::fork();
  Circumstances vented = setting();
  vented.vent.travel_m = 0.050;
  CHECK(spring_N(p, vented, kSag_m) < spring_N(p, setting(), kSag_m) - 5.0);
  const double lost_m = free_extension_m(p, vented) - free_extension_m(p, setting());
  CHECK(lost_m > 0.2e-3);
  CHECK(lost_m < 0.015);
}

TEST_CASE("contributions: the parts add up to the difference at every travel", "[compare]") {
  const FittedModel larch = hand_made::model();
  FittedModel other = larch;
  other.law_values[kPositiveVolume] *= 0.93;
  other.law_values[kNegativeVolume] *= 1.2;
  other.law_values[kTransferTravel] = 6e-3;
  other.law_values[kPreload] += 14.0;
  other.law_values[kFriction] += 3.0;
  other.law_values[kThermalTime] *= 1.6;
  const auto a = predict(larch, like_fitted(larch, 550e3, 0));
  const auto b = predict(other, like_fitted(other, 500e3, 1));
  REQUIRE(a);
  REQUIRE(b);
  const Contributions all = contributions_of(*a, *b);
  REQUIRE(all.travel_m.size() == a->travel_m.size());
  Eigen::VectorXd sum = Eigen::VectorXd::Zero(all.total_N.size());
  for (const Contribution& part : all.parts) sum += part.difference_N;
  for (Eigen::Index i = 0; i < sum.size(); ++i) {
    const auto at = static_cast<std::size_t>(i);
    CHECK_THAT(sum(i), WithinAbs(all.total_N(i), 1e-9));
    CHECK_THAT(all.total_N(i), WithinAbs(a->compression_N[at] - b->compression_N[at], 1e-9));
  }
  const auto preload =
      std::find_if(all.parts.begin(), all.parts.end(),
                   [](const Contribution& part) { return part.name == "preload"; });
  REQUIRE(preload != all.parts.end());
  CHECK_THAT(preload->difference_N.mean(), WithinAbs(-14.0, 1e-9));
}
