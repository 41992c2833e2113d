#include "protocol/record/fork_file.hpp"

#include "protocol/record/file_system.hpp"
#include "protocol/record/toml_fields.hpp"

namespace protocol {
namespace {

constexpr size_t kForkBytesMax = 1 << 20;

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

Result<void> read_coil_spring(TomlFields fields, Fork& fork) {
  CoilSpring& spring = fork.coil_spring;
  const auto rate = [&](std::string_view key) {
    const std::optional<Toleranced> value = fields.maybe_toleranced(key, Dimension::rate);
    require_positive(fields, key, value);
    return value;
  };
  const auto travel = [&](std::string_view key) {
    const std::optional<Toleranced> value = fields.maybe_toleranced(key, Dimension::length);
    if (value && (value->value <= 0.0 || value->value >= fork.travel_m)) {
      fields.fail(Errc::input_out_of_range, key, "must lie within the travel.");
    }
    return value;
  };
  spring.rate_N_m = rate("rate");
  spring.second_rate_N_m = rate("second_rate");
  spring.second_rate_from_m = travel("second_rate_from");
  spring.top_out_rate_N_m = rate("top_out_rate");
  spring.top_out_travel_m = travel("top_out_travel");
  read_shared_keys(fields, fork);
  return fields.finish();
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
  if (!has_lower_legs(fork.kind)) read_shared_keys(fields, fork);
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

Result<void> read_sheet(TomlFields fields, Fork& fork) {
  fork.sheet.mass_kg = fields.maybe_quantity("mass", Dimension::mass);
  fields.require_positive("mass", fork.sheet.mass_kg);
  fork.sheet.price = fields.maybe_text("price").value_or("");
  fork.sheet.remarks = fields.maybe_text("remarks").value_or("");
  // As in every last table of a file.
  read_shared_keys(fields, fork);
  return fields.finish();
}

void read_kind(TomlFields& fields, Fork& fork) {
  const std::optional<std::string> word = fields.maybe_text("kind");
  if (!word) return;
  for (std::size_t i = 0; i < kForkKindNames.size(); ++i) {
    if (kForkKindNames[i] != *word) continue;
    fork.kind = static_cast<ForkKind>(i);
    return;
  }
  fields.fail(
      Errc::input_malformed, "kind",
      "\"" + *word + "\" is not known; write \"air\", \"coil\", \"air_shock\" or \"coil_shock\".");
}

void read_pressure_limit(TomlFields& fields, Fork& fork) {
  // Asked for before the kind is known, so that messages list the keys as people write them.
  const std::optional<double> limit_Pa =
      fields.maybe_quantity("maximum_pressure", Dimension::pressure);
  fields.require_positive("maximum_pressure", limit_Pa);
  fork.maximum_pressure_Pa = limit_Pa.value_or(0.0);
  read_kind(fields, fork);
  // Now a missing one is complained about.
  if (has_air_spring(fork.kind)) (void)fields.quantity("maximum_pressure", Dimension::pressure);
}

void read_top(TomlFields& fields, Fork& fork) {
  fork.name = fields.text("name");
  fork.travel_m = fields.quantity("travel", Dimension::length);
  fields.require_positive("travel", fork.travel_m);
  read_pressure_limit(fields, fork);
  read_shared_keys(fields, fork);
}

// A table that this kind has not.
void refuse(TomlFields& fields, std::string_view key, bool refused, ForkKind kind,
            const std::string& why) {
  if (!refused || fields.maybe_table(key) == nullptr) return;
  fields.fail(Errc::input_malformed, key,
              std::string(kind_name(kind)) + " is the kind, and " + why +
                  "; leave this table out or correct the kind.");
}

}  // namespace

Result<Fork> parse_fork(std::string_view text, std::string_view name) {
  const Result<toml::table> file = parse_toml(text, name);
  if (!file) return file.error();
  Fork fork;
  TomlFields top(&*file, "", name);
  read_top(top, fork);
  const bool air = has_air_spring(fork.kind);
  const toml::table* spring = top.maybe_table(air ? "air_spring" : "coil_spring");
  const toml::table* lower_legs = top.maybe_table("lower_legs");
  const toml::table* sheet = top.maybe_table("sheet");
  refuse(top, "air_spring", !air, fork.kind, "a coil holds no air");
  refuse(top, "coil_spring", air, fork.kind, "an air spring has no coil");
  refuse(top, "lower_legs", !has_lower_legs(fork.kind), fork.kind, "a shock has no lower legs");
  Result<void> done = top.finish();
  if (done && air) done = read_air_spring(TomlFields(spring, "[air_spring]", name), fork);
  if (done && !air) done = read_coil_spring(TomlFields(spring, "[coil_spring]", name), fork);
  if (done) done = read_lower_legs(TomlFields(lower_legs, "[lower_legs]", name), fork);
  if (done) done = read_sheet(TomlFields(sheet, "[sheet]", name), fork);
  if (!done) return done.error();
  return fork;
}

Result<Fork> load_fork(const std::filesystem::path& path) {
  const Result<std::string> text = read_text_file(path, kForkBytesMax);
  if (!text) return text.error();
  return parse_fork(*text, path.string());
}

}  // namespace protocol
