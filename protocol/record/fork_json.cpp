#include "protocol/record/fork_json.hpp"

namespace protocol {
namespace {

void put(Json& json, const char* key, const std::optional<double>& value) {
  if (value) json[key] = *value;
}

void put(Json& json, const char* key, const std::optional<Toleranced>& value) {
  if (!value) return;
  json[key] = Json{{"value", value->value}};
  if (value->tolerance) json[key]["tolerance"] = *value->tolerance;
}

std::optional<Toleranced> maybe_toleranced(JsonFields& fields, std::string_view key) {
  const Json* json = fields.maybe(key);
  if (!json) return std::nullopt;
  JsonFields inner(*json, fields.place_of(key));
  Toleranced value{inner.number("value"), inner.maybe_number("tolerance")};
  const Result<void> done = inner.finish();
  if (!done) fields.fail(done.error());
  return value;
}

}  // namespace

Json fork_to_json(const Fork& fork) {
  Json spring = {{"piston_diameter_m", fork.air_spring.piston_diameter_m},
                 {"shaft_diameter_m", fork.air_spring.shaft_diameter_m}};
  put(spring, "positive_volume_m3", fork.air_spring.positive_volume_m3);
  put(spring, "negative_volume_m3", fork.air_spring.negative_volume_m3);
  put(spring, "transfer_travel_m", fork.air_spring.transfer_travel_m);
  put(spring, "spacer_volume_m3", fork.air_spring.spacer_volume_m3);
  Json legs = Json::object();
  put(legs, "stanchion_diameter_m", fork.lower_legs.stanchion_diameter_m);
  put(legs, "volume_m3", fork.lower_legs.volume_m3);
  Json json = {{"name", fork.name},
               {"travel_m", fork.travel_m},
               {"maximum_pressure_gauge_Pa", fork.maximum_pressure_Pa},
               {"kind", "air"}};
  put(json, "damper_rod_diameter_m", fork.damper_rod_diameter_m);
  put(json, "bumper_m", fork.bumper_m);
  json["air_spring"] = std::move(spring);
  json["lower_legs"] = std::move(legs);
  return json;
}

Result<Fork> fork_from_json(const Json& json, const std::string& place) {
  JsonFields fields(json, place);
  Fork fork;
  fork.name = fields.text("name");
  fork.travel_m = fields.number("travel_m");
  fork.maximum_pressure_Pa = fields.number("maximum_pressure_gauge_Pa");
  (void)fields.word("kind", {"air"});
  fork.damper_rod_diameter_m = fields.maybe_number("damper_rod_diameter_m");
  fork.bumper_m = fields.maybe_number("bumper_m");

  JsonFields spring(fields.any("air_spring"), fields.place_of("air_spring"));
  fork.air_spring.piston_diameter_m = spring.number("piston_diameter_m");
  fork.air_spring.shaft_diameter_m = spring.number("shaft_diameter_m");
  fork.air_spring.positive_volume_m3 = maybe_toleranced(spring, "positive_volume_m3");
  fork.air_spring.negative_volume_m3 = maybe_toleranced(spring, "negative_volume_m3");
  fork.air_spring.transfer_travel_m = maybe_toleranced(spring, "transfer_travel_m");
  fork.air_spring.spacer_volume_m3 = spring.maybe_number("spacer_volume_m3");

  JsonFields legs(fields.any("lower_legs"), fields.place_of("lower_legs"));
  fork.lower_legs.stanchion_diameter_m = legs.maybe_number("stanchion_diameter_m");
  fork.lower_legs.volume_m3 = maybe_toleranced(legs, "volume_m3");

  for (JsonFields* part : {&fields, &spring, &legs}) {
    const Result<void> done = part->finish();
    if (!done) return done.error();
  }
  const bool possible = fork.travel_m > 0.0 && fork.maximum_pressure_Pa > 0.0 &&
                        fork.air_spring.shaft_diameter_m > 0.0 &&
                        fork.air_spring.piston_diameter_m > fork.air_spring.shaft_diameter_m;
  if (!possible) {
    return Error{Errc::input_out_of_range,
                 place + ": no fork has such travel, limit or diameters."};
  }
  return fork;
}

}  // namespace protocol
