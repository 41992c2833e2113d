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

Json air_spring_to_json(const AirSpring& spring) {
  Json json = {{"piston_diameter_m", spring.piston_diameter_m},
               {"shaft_diameter_m", spring.shaft_diameter_m}};
  put(json, "positive_volume_m3", spring.positive_volume_m3);
  put(json, "negative_volume_m3", spring.negative_volume_m3);
  put(json, "transfer_travel_m", spring.transfer_travel_m);
  put(json, "spacer_volume_m3", spring.spacer_volume_m3);
  return json;
}

Json coil_spring_to_json(const CoilSpring& spring) {
  Json json = Json::object();
  put(json, "rate_N_m", spring.rate_N_m);
  put(json, "second_rate_N_m", spring.second_rate_N_m);
  put(json, "second_rate_from_m", spring.second_rate_from_m);
  put(json, "top_out_rate_N_m", spring.top_out_rate_N_m);
  put(json, "top_out_travel_m", spring.top_out_travel_m);
  return json;
}

Result<void> read_air_spring(const Json& json, const std::string& place, AirSpring& spring) {
  JsonFields fields(json, place);
  spring.piston_diameter_m = fields.number("piston_diameter_m");
  spring.shaft_diameter_m = fields.number("shaft_diameter_m");
  spring.positive_volume_m3 = maybe_toleranced(fields, "positive_volume_m3");
  spring.negative_volume_m3 = maybe_toleranced(fields, "negative_volume_m3");
  spring.transfer_travel_m = maybe_toleranced(fields, "transfer_travel_m");
  spring.spacer_volume_m3 = fields.maybe_number("spacer_volume_m3");
  return fields.finish();
}

Result<void> read_coil_spring(const Json& json, const std::string& place, CoilSpring& spring) {
  JsonFields fields(json, place);
  spring.rate_N_m = maybe_toleranced(fields, "rate_N_m");
  spring.second_rate_N_m = maybe_toleranced(fields, "second_rate_N_m");
  spring.second_rate_from_m = maybe_toleranced(fields, "second_rate_from_m");
  spring.top_out_rate_N_m = maybe_toleranced(fields, "top_out_rate_N_m");
  spring.top_out_travel_m = maybe_toleranced(fields, "top_out_travel_m");
  return fields.finish();
}

Result<void> read_lower_legs(const Json& json, const std::string& place, LowerLegs& legs) {
  JsonFields fields(json, place);
  legs.stanchion_diameter_m = fields.maybe_number("stanchion_diameter_m");
  legs.volume_m3 = maybe_toleranced(fields, "volume_m3");
  return fields.finish();
}

Json sheet_to_json(const TestSheet& sheet) {
  Json json = Json::object();
  put(json, "mass_kg", sheet.mass_kg);
  if (!sheet.price.empty()) json["price"] = sheet.price;
  if (!sheet.remarks.empty()) json["remarks"] = sheet.remarks;
  return json;
}

Result<void> read_sheet(const Json& json, const std::string& place, TestSheet& sheet) {
  JsonFields fields(json, place);
  sheet.mass_kg = fields.maybe_number("mass_kg");
  sheet.price = fields.text_or_empty("price");
  sheet.remarks = fields.text_or_empty("remarks");
  return fields.finish();
}

bool is_possible(const Fork& fork) {
  if (!(fork.travel_m > 0.0)) return false;
  if (!has_air_spring(fork.kind)) return true;
  return fork.maximum_pressure_Pa > 0.0 && fork.air_spring.shaft_diameter_m > 0.0 &&
         fork.air_spring.piston_diameter_m > fork.air_spring.shaft_diameter_m;
}

}  // namespace

Json fork_to_json(const Fork& fork) {
  const bool air = has_air_spring(fork.kind);
  Json json = {{"name", fork.name}, {"travel_m", fork.travel_m}};
  if (air || fork.maximum_pressure_Pa > 0.0) {
    json["maximum_pressure_gauge_Pa"] = fork.maximum_pressure_Pa;
  }
  json["kind"] = kind_name(fork.kind);
  put(json, "damper_rod_diameter_m", fork.damper_rod_diameter_m);
  put(json, "bumper_m", fork.bumper_m);
  if (air) {
    json["air_spring"] = air_spring_to_json(fork.air_spring);
  } else {
    json["coil_spring"] = coil_spring_to_json(fork.coil_spring);
  }
  if (Json sheet = sheet_to_json(fork.sheet); !sheet.empty()) json["sheet"] = std::move(sheet);
  if (!has_lower_legs(fork.kind)) return json;
  Json legs = Json::object();
  put(legs, "stanchion_diameter_m", fork.lower_legs.stanchion_diameter_m);
  put(legs, "volume_m3", fork.lower_legs.volume_m3);
  json["lower_legs"] = std::move(legs);
  return json;
}

Result<Fork> fork_from_json(const Json& json, const std::string& place) {
  JsonFields fields(json, place);
  Fork fork;
  fork.name = fields.text("name");
  fork.travel_m = fields.number("travel_m");
  fork.kind =
      static_cast<ForkKind>(fields.word("kind", {kForkKindNames.begin(), kForkKindNames.end()}));
  const bool air = has_air_spring(fork.kind);
  fork.maximum_pressure_Pa = air ? fields.number("maximum_pressure_gauge_Pa")
                                 : fields.maybe_number("maximum_pressure_gauge_Pa").value_or(0.0);
  fork.damper_rod_diameter_m = fields.maybe_number("damper_rod_diameter_m");
  fork.bumper_m = fields.maybe_number("bumper_m");
  const char* spring = air ? "air_spring" : "coil_spring";
  const Json& spring_json = fields.any(spring);
  const Json* sheet = fields.maybe("sheet");
  const Json* legs = has_lower_legs(fork.kind) ? &fields.any("lower_legs") : nullptr;
  Result<void> done = fields.finish();
  if (done) {
    done = air ? read_air_spring(spring_json, fields.place_of(spring), fork.air_spring)
               : read_coil_spring(spring_json, fields.place_of(spring), fork.coil_spring);
  }
  if (done && legs != nullptr) {
    done = read_lower_legs(*legs, fields.place_of("lower_legs"), fork.lower_legs);
  }
  if (done && sheet != nullptr) {
    done = read_sheet(*sheet, fields.place_of("sheet"), fork.sheet);
  }
  if (!done) return done.error();
  if (!is_possible(fork)) {
    return Error{Errc::input_out_of_range,
                 place + ": no fork has such travel, limit or diameters."};
  }
  return fork;
}

}  // namespace protocol
