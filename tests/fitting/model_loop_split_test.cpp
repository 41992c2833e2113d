// What the loop is made of, held to the strokes that predict gives and to what is known of its
// parts.
#include "fitting/model/loop_split.hpp"

#include <catch2/catch.hpp>

#include "tests/fitting/hand_made_model.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

LoopSplit split(const FittedModel& model, const PredictionRequest& request) {
  const auto out = split_loop(model, request);
  REQUIRE(out);
  REQUIRE(out->parts.size() == 4);
  return *out;
}

const LoopPart& part(const LoopSplit& split, const std::string& name) {
  for (const LoopPart& each : split.parts) {
    if (each.name == name) return each;
  }
  FAIL("no part " << name);
  return split.parts.front();
}

}  // namespace

TEST_CASE("loop split: the parts add up to the half-loop of the strokes foretold", "[fit]") {
  FittedModel model = hand_made::model();
  model.law_values[kDamperCompression] = 300.0;
  model.law_values[kDamperRebound] = 500.0;
  const PredictionRequest request = like_fitted(model, 550e3, 1);
  const LoopSplit out = split(model, request);
  const auto strokes = predict(model, request);
  REQUIRE(strokes);
  REQUIRE(strokes->travel_m == out.travel_m);
  for (std::size_t i = 0; i < out.travel_m.size(); ++i) {
    const double half_N = 0.5 * (strokes->compression_N[i] - strokes->rebound_N[i]);
    // Because both run the same law to the same settled cycle, up to rounding.
    CHECK_THAT(out.half_loop_N[i], WithinAbs(half_N, 1e-6));
  }
  double sum_J = 0.0;
  for (const LoopPart& each : out.parts) sum_J += each.loss_J;
  CHECK_THAT(out.loss_J, WithinRel(sum_J, 1e-12));
  // Mean damping times speed, whatever the travel; over the way there and back.
  CHECK_THAT(part(out, "damper").force_N[100], WithinAbs(400.0 * 0.004, 1e-9));
  CHECK_THAT(part(out, "damper").loss_J, WithinAbs(2.0 * 1.6 * 0.146, 0.01));
}

TEST_CASE("loop split: heat goes when the cycle is slow, friction stays", "[fit]") {
  const FittedModel model = hand_made::model();
  PredictionRequest request = like_fitted(model, 550e3, 1);
  const LoopSplit at_speed = split(model, request);
  request.speed_m_s = 2e-6;
  const LoopSplit slow = split(model, request);
  const double heat_J = part(at_speed, "heat").loss_J;
  CHECK(heat_J > 0.5);
  CHECK(std::abs(part(slow, "heat").loss_J) < 0.01 * heat_J);
  CHECK_THAT(part(slow, "friction").loss_J, WithinRel(part(at_speed, "friction").loss_J, 0.05));
  // Near a reversal friction is still turning round.
  CHECK(part(at_speed, "presliding").force_N.front() < -1.0);
  // Because friction lags the growing pressure by the presliding travel, and by no more.
  CHECK_THAT(part(at_speed, "presliding").force_N[100], WithinAbs(0.0, 1e-3));
}

TEST_CASE("loop split: without a clock the split is refused in words", "[fit]") {
  FittedModel model = hand_made::model();
  model.law = GasLaw::exponent;
  const LoopSplit out = split(model, like_fitted(model, 550e3, 1));
  CHECK_FALSE(out.told_apart);
  CHECK_THAT(split_sentence(out), Contains("cannot be told apart"));
  CHECK(part(out, "heat").loss_J == 0.0);
  CHECK(out.loss_J > 0.0);
  CHECK_THAT(split_sentence(split(hand_made::model(), like_fitted(model, 550e3, 1))),
             Contains("friction and") && Contains("the gas's heat"));
}

TEST_CASE("loop split: what predict refuses is refused", "[fit]") {
  FittedModel model = hand_made::model();
  CHECK_FALSE(split_loop(model, like_fitted(model, 2e6, 1)));
  model.usable = false;
  CHECK_FALSE(split_loop(model, like_fitted(model, 550e3, 1)));
}
