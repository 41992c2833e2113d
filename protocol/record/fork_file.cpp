#include "protocol/record/fork_file.hpp"

#include "protocol/record/file_system.hpp"
#include "protocol/record/toml_fields.hpp"

namespace protocol {
namespace {

constexpr size_t kBytesMax = 1 << 20;

void require_positive(TomlFields& fields, std::string_view key,
                      const std::optional<Toleranced>& value) {
  if (value) fields.require_positive(key, value->value);
}

// Keys that belong to the whole fork; whoever adds them at the end of the file finds them inside
// the last table, and they are understood there too.
void read_shared_keys(TomlFields& fields, Fork& fork) {
  const std::optional<double> rod = fields.maybe_quantity("damper_rod_diameter", Dimension::length);
  fields.require_positive("damper_rod_diameter", rod);
  const std::optional<double> bumper = fields.maybe_quantity("bumper", Dimension::length);
  fields.require_positive("bumper", bumper);
  if (rod && fork.damper_rod_diameter_m) {
    fields.fail(Errc::input_malformed, "damper_rod_diameter", "this is said twice.");
  }
  if (bumper && fork.bumper_m) fields.fail(Errc::input_malformed, "bumper", "this is said twice.");
  if (rod) fork.damper_rod_diameter_m = rod;
  if (bumper) fork.bumper_m = bumper;
}

Result<void> read_air_spring(TomlFields fields, Fork& fork) {
  AirSpring& spring = fork.air_spring;
  spring.piston_diameter_m = fields.quantity("piston_diameter", Dimension::length);
  fields.require_positive("piston_diameter", spring.piston_diameter_m);
  spring.shaft_diameter_m = fields.quantity("shaft_diameter", Dimension::length);
  fields.require_positive("shaft_diameter", spring.shaft_diameter_m);
  if (spring.shaft_diameter_m >= spring.piston_diameter_m) {
    fields.fail(Errc::input_out_of_range, "shaft_diameter", "must be less than piston_diameter.");
  }
  spring.positive_volume_m3 = fields.maybe_toleranced("positive_volume", Dimension::volume);
  require_positive(fields, "positive_volume", spring.positive_volume_m3);
  spring.negative_volume_m3 = fields.maybe_toleranced("negative_volume", Dimension::volume);
  require_positive(fields, "negative_volume", spring.negative_volume_m3);
  spring.transfer_travel_m = fields.maybe_toleranced("transfer_travel", Dimension::length);
  if (spring.transfer_travel_m &&
      (spring.transfer_travel_m->value < 0.0 || spring.transfer_travel_m->value >= fork.travel_m)) {
    fields.fail(Errc::input_out_of_range, "transfer_travel", "must lie within the travel.");
  }
  spring.spacer_volume_m3 = fields.maybe_quantity("spacer_volume", Dimension::volume);
  fields.require_positive("spacer_volume", spring.spacer_volume_m3);
  return fields.finish();
}

Result<void> read_lower_legs(TomlFields fields, Fork& fork) {
  LowerLegs& legs = fork.lower_legs;
  legs.stanchion_diameter_m = fields.maybe_quantity("stanchion_diameter", Dimension::length);
  fields.require_positive("stanchion_diameter", legs.stanchion_diameter_m);
  if (legs.stanchion_diameter_m &&
      *legs.stanchion_diameter_m <= fork.air_spring.piston_diameter_m) {
    fields.fail(Errc::input_out_of_range, "stanchion_diameter",
                "must be more than piston_diameter, since the piston runs inside the stanchion.");
  }
  legs.volume_m3 = fields.maybe_toleranced("volume", Dimension::volume);
  require_positive(fields, "volume", legs.volume_m3);
  read_shared_keys(fields, fork);
  return fields.finish();
}

void read_top(TomlFields& fields, Fork& fork) {
  fork.name = fields.text("name");
  fork.travel_m = fields.quantity("travel", Dimension::length);
  fields.require_positive("travel", fork.travel_m);
  fork.maximum_pressure_Pa = fields.quantity("maximum_pressure", Dimension::pressure);
  fields.require_positive("maximum_pressure", fork.maximum_pressure_Pa);
  const std::string kind = fields.maybe_text("kind").value_or("air");
  if (kind != "air") {
    fields.fail(Errc::input_malformed, "kind", "\"" + kind + "\" is not known; write \"air\".");
  }
  read_shared_keys(fields, fork);
}

}  // namespace

Result<Fork> parse_fork(std::string_view text, std::string_view name) {
  const Result<toml::table> file = parse_toml(text, name);
  if (!file) return file.error();
  Fork fork;
  TomlFields top(&*file, "", name);
  read_top(top, fork);
  const toml::table* air_spring = top.maybe_table("air_spring");
  const toml::table* lower_legs = top.maybe_table("lower_legs");
  Result<void> done = top.finish();
  if (done) done = read_air_spring(TomlFields(air_spring, "[air_spring]", name), fork);
  if (done) done = read_lower_legs(TomlFields(lower_legs, "[lower_legs]", name), fork);
  if (!done) return done.error();
  return fork;
}

Result<Fork> load_fork(const std::filesystem::path& path) {
  const Result<std::string> text = read_text_file(path, kBytesMax);
  if (!text) return text.error();
  return parse_fork(*text, path.string());
}

}  // namespace protocol
