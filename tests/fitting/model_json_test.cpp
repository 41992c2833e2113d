// The model file: what is written is read again whole, and what is damaged is refused with its
// place.
#include "fitting/model/model_json.hpp"

#include <catch2/catch.hpp>
#include <functional>

#include "tests/fitting/hand_made_model.hpp"

using namespace fitting;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;
using protocol::Json;

namespace {

FittedModel full() {
  FittedModel model = hand_made::model();
  const auto status = ParameterStatus::fitted;
  model.parameters = {{"positive_volume", "cm3", 214.0, 1.2, 0.12, status, "", ""},
                      {"preload", "N", 11.0, 2.0, 0.2, status, "", ""},
                      {"friction", "N", 6.5, 9.0, 0.1, ParameterStatus::not_determined, "", "why"},
                      {"fill_error", "kPa", 0.4, 0.9, 0.1, status, "larch-1", ""}};
  model.shared = {{"pressure_gauge", 0.01, true, Eigen::Vector2d(3.0, -0.5)},
                  {"damper_rod_area", 4e-5, false, Eigen::Vector2d(0.1, 2.0)}};
  model.context.record_ids = {"larch-1", "larch-2"};
  model.context.rig_id = "bench 1";
  model.context.calibrated_force_N = 3000.0;
  model.context.gauge_reading_Pa = 3447.0;
  model.context.vent = {0.01, 95e3, 288.0};
  model.laws_tried = {{GasLaw::wall_coefficient, "", 14, 0.4, 0.0},
                      {GasLaw::constant_time, "", 14, 3.2, 250.0}};
  model.rms_residual_N = 1.3;
  model.samples = 59322;
  model.warnings = {"something to know"};
  return model;
}

protocol::Error refused(const std::function<void(Json&)>& damage) {
  Json document = model_document(full());
  damage(document);
  const auto model = parse_model(document.dump(), "larch.json");
  REQUIRE_FALSE(model);
  CHECK_THAT(model.error().message, Contains("larch.json"));
  return model.error();
}

}  // namespace

TEST_CASE("model file: what is written is read again, and foretells the same", "[fit]") {
  const FittedModel written = full();
  const auto read = parse_model(model_document(written).dump());
  REQUIRE(read);
  CHECK(read->fork.name == written.fork.name);
  CHECK(read->law == written.law);
  CHECK(read->free == written.free);
  CHECK(read->own_covariance == written.own_covariance);
  CHECK(read->statistical_covariance == written.statistical_covariance);
  CHECK(read->usable);
  CHECK(read->warnings == written.warnings);
  CHECK(read->samples == written.samples);
  CHECK(read->context.record_ids == written.context.record_ids);
  CHECK(read->context.vent.temperature_K == 288.0);
  CHECK(read->context.calibrated_force_N == 3000.0);
  REQUIRE(read->laws_tried.size() == 2);
  CHECK(read->laws_tried[1].criterion == 250.0);
  REQUIRE(read->parameters.size() == 4);
  CHECK(read->parameters[0].statistical_uncertainty == 0.12);
  CHECK(read->parameters[2].status == ParameterStatus::not_determined);
  CHECK(read->parameters[2].reason == "why");
  CHECK(read->parameters[3].sweep == "larch-1");
  REQUIRE(read->shared.size() == 2);
  CHECK(read->shared[0].across_forks);
  CHECK_FALSE(read->shared[1].across_forks);
  CHECK(read->shared[1].shift == written.shared[1].shift);

  const PredictionRequest request = like_fitted(written, 558475.0, 1);
  const auto before = predict(written, request);
  const auto after = predict(*read, request);
  REQUIRE(before);
  REQUIRE(after);
  for (std::size_t i = 0; i < before->travel_m.size(); ++i) {
    // Because values are printed in their units: the last digit may differ.
    CHECK_THAT(after->compression_N[i], WithinRel(before->compression_N[i], 1e-10));
    CHECK_THAT(after->spring_standard_uncertainty_N[i],
               WithinRel(before->spring_standard_uncertainty_N[i], 1e-9));
  }
}

TEST_CASE("model file: what is not determined has no number", "[fit]") {
  const Json document = model_document(full());
  const Json& friction = document.at("parameters").at(2);
  CHECK(friction.at("status") == "not_determined");
  for (const char* key : {"value", "standard_uncertainty", "statistical_uncertainty"}) {
    CHECK(friction.at(key).is_null());
  }
  CHECK(document.at("parameters").at(0).at("value") == 214.0);
  CHECK(document.at("parameters").at(3).at("sweep") == "larch-1");
  CHECK_FALSE(document.at("parameters").at(0).contains("sweep"));
}

TEST_CASE("model file: one of a fit that failed is readable, and still not usable", "[fit]") {
  FittedModel failed;
  failed.fork = full().fork;
  failed.warnings = {"no start gave the chambers a volume"};
  const auto read = parse_model(model_document(failed).dump());
  REQUIRE(read);
  CHECK_FALSE(read->usable);
  CHECK(read->warnings == failed.warnings);
  const auto foretold = predict(*read, {});
  REQUIRE_FALSE(foretold);
  CHECK(foretold.error().code == protocol::Errc::fit_not_usable);
}

TEST_CASE("model file: a damaged one is refused with its name", "[fit]") {
  using protocol::Errc;
  CHECK(refused([](Json& d) { d["format"] = "another"; }).code == Errc::input_malformed);
  CHECK(refused([](Json& d) { d.erase("law"); }).code == Errc::input_malformed);
  CHECK(refused([](Json& d) { d["extra"] = 1; }).code == Errc::input_unknown_key);
  CHECK_THAT(refused([](Json& d) { d["extra"] = 1; }).message, Contains("extra"));
  refused([](Json& d) { d["format_version"] = kModelFormatVersion + 1; });
  refused([](Json& d) { d["gas_law"] = "magic"; });
  refused([](Json& d) { d["law"]["own_covariance"].erase(0); });
  refused([](Json& d) { d["law"]["own_covariance"][0][1] = "text"; });
  refused([](Json& d) { d["law"]["free"][0] = "unheard_of"; });
  refused([](Json& d) { d["law"]["values"].erase(3); });
  refused([](Json& d) { d["law"]["values"][0]["unit"] = "L"; });
  refused([](Json& d) { d["law"]["doubts"][0]["shift"] = {1.0}; });
  refused([](Json& d) { d["parameters"][0]["value"] = nullptr; });
  refused([](Json& d) { d["parameters"][0]["status"] = "guessed"; });
  refused([](Json& d) { d["context"].erase("swept_travel_m"); });
  for (const char* text : {"", "{", "[]", "null", "{\"format\": 3}"}) {
    CAPTURE(text);
    CHECK_FALSE(parse_model(text));
  }
}
