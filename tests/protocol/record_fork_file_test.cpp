// Fork and bench files: what they say is read with its units, and every mistake has its place.
#include <catch2/catch.hpp>

#include "protocol/record/bench_file.hpp"
#include "protocol/record/fork_file.hpp"
#include "protocol/record/fork_json.hpp"
#include "tests/support/records.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace protocol;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;
using Catch::Matchers::WithinRel;
using test_support::kLarchToml;

namespace {

// The fork file with one text in place of another.
std::string with(const std::string& from, const std::string& to) {
  std::string text = kLarchToml;
  const size_t start = text.find(from);
  REQUIRE(start != std::string::npos);
  return text.replace(start, from.size(), to);
}

}  // namespace

TEST_CASE("fork file: every key reaches the fork in SI", "[protocol]") {
  const Result<Fork> fork =
      parse_fork(kLarchToml + "damper_rod_diameter = \"10 mm\"\n", "larch.toml");
  REQUIRE(fork);
  CHECK(fork->name == "Larch 160");
  // Because one product of a decimal and a power of ten rounds once.
  CHECK_THAT(fork->travel_m, WithinRel(0.160, 1e-15));
  CHECK_THAT(fork->maximum_pressure_Pa, WithinRel(150 * 6894.757293168362, 1e-15));
  CHECK_THAT(fork->air_spring.piston_diameter_m, WithinRel(0.031, 1e-15));
  CHECK_THAT(fork->air_spring.shaft_diameter_m, WithinRel(0.008, 1e-15));
  CHECK_THAT(fork->air_spring.positive_volume_m3.value().value, WithinRel(205e-6, 1e-15));
  CHECK_THAT(fork->air_spring.positive_volume_m3->tolerance.value(), WithinRel(5e-6, 1e-15));
  CHECK_FALSE(fork->air_spring.negative_volume_m3.value().tolerance.has_value());
  CHECK_THAT(fork->air_spring.transfer_travel_m.value().value, WithinRel(0.0025, 1e-15));
  CHECK_THAT(fork->air_spring.spacer_volume_m3.value(), WithinRel(7e-6, 1e-15));
  CHECK_THAT(fork->lower_legs.stanchion_diameter_m.value(), WithinRel(0.034, 1e-15));
  CHECK_THAT(fork->lower_legs.volume_m3.value().value, WithinRel(390e-6, 1e-15));
  // A key of the whole fork is understood at the end of the file too, behind the last table.
  CHECK_THAT(fork->damper_rod_diameter_m.value(), WithinRel(0.010, 1e-15));
  CHECK_FALSE(fork->bumper_m.has_value());
}

TEST_CASE("fork file: five keys suffice", "[protocol]") {
  const Result<Fork> fork = parse_fork(
      "name = \"B\"\ntravel = \"6.3 in\"\nmaximum_pressure = \"10 bar\"\n"
      "[air_spring]\npiston_diameter = \"31 mm\"\nshaft_diameter = \"8 mm\"\n",
      "b.toml");
  REQUIRE(fork);
  CHECK_THAT(fork->travel_m, WithinRel(6.3 * 0.0254, 1e-15));
  CHECK_FALSE(fork->air_spring.positive_volume_m3.has_value());
  CHECK_FALSE(fork->lower_legs.volume_m3.has_value());
}

TEST_CASE("fork file: a coil fork says its rates, and needs no pressure", "[protocol]") {
  const Result<Fork> fork = parse_fork(
      "name = \"A\"\ntravel = \"150 mm\"\nkind = \"coil\"\n"
      "[coil_spring]\nrate = \"9 N/mm +/- 0.5 N/mm\"\nsecond_rate = \"60 lbf/in\"\n"
      "second_rate_from = \"95 mm\"\ntop_out_rate = \"20 N/mm\"\ntop_out_travel = \"6 mm\"\n"
      "[lower_legs]\nstanchion_diameter = \"34 mm\"\n",
      "a.toml");
  REQUIRE(fork);
  CHECK(fork->kind == ForkKind::coil);
  CHECK(fork->maximum_pressure_Pa == 0.0);
  const CoilSpring& spring = fork->coil_spring;
  // Because one product of a decimal and a power of ten rounds once.
  CHECK_THAT(spring.rate_N_m.value().value, WithinRel(9e3, 1e-15));
  CHECK_THAT(spring.rate_N_m->tolerance.value(), WithinRel(500.0, 1e-15));
  // A pound-force over an inch, both exact by definition.
  CHECK_THAT(spring.second_rate_N_m.value().value, WithinRel(60 * 4.4482216152605 / 0.0254, 1e-14));
  CHECK_THAT(spring.second_rate_from_m.value().value, WithinRel(0.095, 1e-15));
  CHECK_THAT(spring.top_out_rate_N_m.value().value, WithinRel(2e4, 1e-15));
  CHECK_THAT(spring.top_out_travel_m.value().value, WithinRel(0.006, 1e-15));
  CHECK_THAT(fork->lower_legs.stanchion_diameter_m.value(), WithinRel(0.034, 1e-15));
}

TEST_CASE("fork file: a coil's values may all be left out, and none may be impossible",
          "[protocol]") {
  const std::string top = "name = \"R\"\ntravel = \"65 mm\"\nkind = \"coil_shock\"\n";
  const Result<Fork> bare = parse_fork(top, "r.toml");
  REQUIRE(bare);
  CHECK(bare->kind == ForkKind::coil_shock);
  CHECK_FALSE(bare->coil_spring.rate_N_m.has_value());
  const Result<Fork> shared =
      parse_fork(top + "[coil_spring]\nrate = \"80 N/mm\"\nbumper = \"9 mm\"\n", "r.toml");
  REQUIRE(shared);
  CHECK_THAT(shared->bumper_m.value(), WithinRel(0.009, 1e-15));

  struct Row {
    const char* line;
    Errc code;
    const char* says;
  };
  const auto row = GENERATE(values<Row>({
      {"rate = \"0 N/mm\"", Errc::input_out_of_range, "more than zero"},
      {"rate = \"9 N\"", Errc::unit_wrong_dimension, "is a force"},
      {"second_rate_from = \"65 mm\"", Errc::input_out_of_range, "within the travel"},
      {"top_out_travel = \"0 mm\"", Errc::input_out_of_range, "within the travel"},
      {"wire = \"5 mm\"", Errc::input_unknown_key, "'wire' in [coil_spring]"},
  }));
  CAPTURE(row.line);
  const Result<Fork> refused = parse_fork(top + "[coil_spring]\n" + row.line + "\n", "r.toml");
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == row.code);
  CHECK_THAT(refused.error().message, StartsWith("r.toml:5:") && Contains(row.says));
}

TEST_CASE("fork file: the sheet of the test is kept, and survives a record", "[protocol]") {
  const Result<Fork> fork = parse_fork(
      "name = \"S\"\ntravel = \"65 mm\"\nkind = \"coil_shock\"\n"
      "[sheet]\nmass = \"610 g\"\nprice = \"540 EUR\"\nremarks = \"run in <2 h>\"\n",
      "s.toml");
  REQUIRE(fork);
  CHECK_THAT(fork->sheet.mass_kg.value(), WithinRel(0.610, 1e-15));
  const Result<Fork> again = fork_from_json(fork_to_json(*fork), "fork");
  REQUIRE(again);
  CHECK(again->sheet.mass_kg == fork->sheet.mass_kg);
  CHECK(again->sheet.price == "540 EUR");
  CHECK(again->sheet.remarks == "run in <2 h>");
  const Result<Fork> heavy = parse_fork(
      "name = \"S\"\ntravel = \"65 mm\"\nkind = \"coil_shock\"\n[sheet]\nmass = \"0 g\"\n",
      "s.toml");
  REQUIRE_FALSE(heavy);
  CHECK_THAT(heavy.error().message, StartsWith("s.toml:5:") && Contains("more than zero"));
}

TEST_CASE("fork file: an air shock has an air spring and nothing else", "[protocol]") {
  const Result<Fork> fork = parse_fork(
      "name = \"S\"\ntravel = \"65 mm\"\nmaximum_pressure = \"24 bar\"\nkind = \"air_shock\"\n"
      "[air_spring]\npiston_diameter = \"42 mm\"\nshaft_diameter = \"12 mm\"\nbumper = \"6 mm\"\n",
      "s.toml");
  REQUIRE(fork);
  CHECK(fork->kind == ForkKind::air_shock);
  CHECK_THAT(fork->bumper_m.value(), WithinRel(0.006, 1e-15));
}

TEST_CASE("fork file: a mistake is refused with its place", "[protocol]") {
  struct Row {
    const char* from;
    const char* to;
    Errc code;
    const char* starts;
    const char* says;
  };
  const auto row = GENERATE(values<Row>({
      {"kind = \"air\"", "colour = \"red\"", Errc::input_unknown_key, "larch.toml:4:1: ",
       "'colour' is not a known key; known are: name, travel, maximum_pressure, kind"},
      {"shaft_diameter =", "shaft_diametre =", Errc::input_unknown_key, "larch.toml:7:1: ",
       "'shaft_diametre' in [air_spring] is not a known key; known are: piston_diameter, "
       "shaft_diameter"},
      {"name = \"Larch 160\"\n", "", Errc::input_malformed, "larch.toml:1:1: ", "'name'"},
      {"piston_diameter = \"31.0 mm\"\n", "", Errc::input_malformed,
       "larch.toml:5:1: ", "'piston_diameter' in [air_spring]: this key is required"},
      {"\"31.0 mm\"", "\"31.0 psi\"", Errc::unit_wrong_dimension,
       "larch.toml:6:19: ", "is a pressure, where a length is wanted"},
      {"\"31.0 mm\"", "\"31.0 mn\"", Errc::unit_unknown, "larch.toml:6:19: ", "mm, cm, m, in"},
      {"\"31.0 mm\"", "31.0", Errc::input_malformed, "larch.toml:6:19: ", "with its unit"},
      {"\"31.0 mm\"", "\"7.9 mm\"", Errc::input_out_of_range,
       "larch.toml:7:18: ", "less than piston_diameter"},
      {"\"160 mm\"", "\"-160 mm\"", Errc::input_out_of_range,
       "larch.toml:2:10: ", "more than zero"},
      {"\"205 cm3 +/- 5 cm3\"", "\"205 cm3 +/- 5\"", Errc::unit_unknown,
       "larch.toml:8:19: ", "has no unit"},
      {"\"390 cm3\"", "\"0 cm3\"", Errc::input_out_of_range,
       "larch.toml:14:10: ", "more than zero"},
      {"\"34 mm\"", "\"30 mm\"", Errc::input_out_of_range,
       "larch.toml:13:22: ", "more than piston_diameter"},
      {"\"2.5 mm\"", "\"200 mm\"", Errc::input_out_of_range,
       "larch.toml:10:19: ", "within the travel"},
      {"kind = \"air\"", "kind = \"rubber\"", Errc::input_malformed,
       "larch.toml:4:8: ", "\"rubber\" is not known; write \"air\", \"coil\""},
      {"maximum_pressure = \"150 psi\"\n", "", Errc::input_malformed,
       "larch.toml:1:1: ", "'maximum_pressure'"},
      {"kind = \"air\"", "kind = \"coil\"", Errc::input_malformed, "larch.toml:5:",
       "coil is the kind, and a coil holds no air; leave this table out or correct the kind."},
      {"kind = \"air\"", "kind = \"air_shock\"", Errc::input_malformed,
       "larch.toml:12:", "a shock has no lower legs"},
      {"[lower_legs]", "[coil_spring]", Errc::input_malformed,
       "larch.toml:12:", "an air spring has no coil"},
      {"kind = \"air\"", "kind = air", Errc::input_malformed, "larch.toml:4:", "not TOML"},
      {"kind = \"air\"", "name = \"again\"", Errc::input_malformed, "larch.toml:4:", "not TOML"},
      {"[lower_legs]", "[lower_leg]", Errc::input_unknown_key, "larch.toml:12:", "'lower_leg'"},
      {"kind = \"air\"", "lower_legs = 3", Errc::input_malformed, "larch.toml:", ""},
  }));
  CAPTURE(row.from, row.to);
  const Result<Fork> fork = parse_fork(with(row.from, row.to), "larch.toml");
  REQUIRE_FALSE(fork);
  CHECK(fork.error().code == row.code);
  CHECK_THAT(fork.error().message, StartsWith(row.starts));
  CHECK_THAT(fork.error().message, Contains(row.says));
}

TEST_CASE("fork file: a missing file, a folder and a huge file are refused by name", "[protocol]") {
  const test_support::TemporaryFolder folder;
  const Result<Fork> missing = load_fork(folder / "none.toml");
  REQUIRE_FALSE(missing);
  CHECK(missing.error().code == Errc::input_missing);
  CHECK_THAT(missing.error().message, Contains("none.toml") && Contains("No such file"));
  const Result<Fork> directory = load_fork(folder.path());
  REQUIRE_FALSE(directory);
  CHECK(directory.error().code == Errc::input_missing);
  test_support::write_all(folder / "huge.toml", std::string((1 << 20) + 1, '#'));
  const Result<Fork> huge = load_fork(folder / "huge.toml");
  REQUIRE_FALSE(huge);
  CHECK(huge.error().code == Errc::input_malformed);
  test_support::write_all(folder / "larch.toml", kLarchToml);
  CHECK(load_fork(folder / "larch.toml"));
}

TEST_CASE("fork JSON: a fork survives the way there and back", "[protocol]") {
  const Fork fork = test_support::full_metadata().fork;
  const Result<Json> json = parse_json(json_text(fork_to_json(fork)), "fork.json");
  REQUIRE(json);
  const Result<Fork> back = fork_from_json(*json, "fork.json");
  REQUIRE(back);
  CHECK(fork_to_json(*back) == fork_to_json(fork));
  CHECK(back->air_spring.positive_volume_m3->tolerance == 5e-6);
  CHECK(back->bumper_m == 0.012);

  Json unknown = *json;
  unknown["air_spring"]["colour"] = 1;
  REQUIRE_FALSE(fork_from_json(unknown, "fork.json"));
  CHECK_THAT(fork_from_json(unknown, "fork.json").error().message,
             Contains("fork.json.air_spring: 'colour' is not a known key"));
  Json wrong = *json;
  wrong["travel_m"] = "160 mm";
  CHECK_FALSE(fork_from_json(wrong, "fork.json"));
  Json negative = *json;
  negative["travel_m"] = -0.16;
  CHECK_FALSE(fork_from_json(negative, "fork.json"));
}

TEST_CASE("fork JSON: every kind survives the way there and back with what it has", "[protocol]") {
  const auto kind =
      GENERATE(ForkKind::air, ForkKind::coil, ForkKind::air_shock, ForkKind::coil_shock);
  Fork fork = test_support::full_metadata().fork;
  fork.kind = kind;
  fork.coil_spring.rate_N_m = Toleranced{9e3, 500.0};
  fork.coil_spring.top_out_travel_m = Toleranced{0.006, {}};
  if (!has_air_spring(kind)) fork.maximum_pressure_Pa = 0.0;
  const Json json = fork_to_json(fork);
  CAPTURE(json.dump());
  CHECK(json.contains("air_spring") == has_air_spring(kind));
  CHECK(json.contains("maximum_pressure_gauge_Pa") == has_air_spring(kind));
  CHECK(json.contains("coil_spring") != has_air_spring(kind));
  CHECK(json.contains("lower_legs") == has_lower_legs(kind));
  const Result<Fork> back = fork_from_json(json, "fork.json");
  REQUIRE(back);
  CHECK(back->kind == kind);
  CHECK(fork_to_json(*back) == json);
  // Another kind's parts are no longer understood.
  Json other = json;
  other["kind"] = kind_name(has_air_spring(kind) ? ForkKind::coil : ForkKind::air);
  CHECK_FALSE(fork_from_json(other, "fork.json"));
}

TEST_CASE("bench file: a new one reads back as the defaults", "[protocol]") {
  const Result<Bench> bench = parse_bench(new_bench_text(), "bench.toml");
  REQUIRE(bench);
  const Bench defaults;
  CHECK(bench->port.empty());
  CHECK(bench->steps_per_mm == defaults.steps_per_mm);
  CHECK(bench->coupling == Coupling::clamped);
  CHECK_THAT(bench->speed_m_s, WithinRel(defaults.speed_m_s, 1e-15));
  CHECK_THAT(bench->acceleration_m_s2, WithinRel(defaults.acceleration_m_s2, 1e-15));
  CHECK_THAT(bench->force_max_N, WithinRel(defaults.force_max_N, 1e-15));
  CHECK_THAT(bench->travel_max_m, WithinRel(defaults.travel_max_m, 1e-15));
  CHECK_THAT(bench->gauge_relative, WithinRel(defaults.gauge_relative, 1e-15));
  // Because half a psi is rounded to a whole pascal in the default.
  CHECK_THAT(bench->gauge_reading_Pa, WithinRel(defaults.gauge_reading_Pa, 2e-4));
  CHECK_FALSE(bench->gravity_m_s2.has_value());
}

TEST_CASE("bench file: what it says is taken, and mistakes are refused with their place",
          "[protocol]") {
  const Result<Bench> bench = parse_bench(
      "[rig]\nport = \"/dev/ttyUSB0\"\nname = \"bench-1\"\nsteps_per_mm = 320.5\ncoupling = "
      "\"push\"\n"
      "[place]\nlatitude = \"47 deg\"\n[calibrations]\nforce = \"calibrations/f.json\"\n",
      "bench.toml");
  REQUIRE(bench);
  CHECK(bench->port == "/dev/ttyUSB0");
  CHECK(bench->rig_id == "bench-1");
  CHECK(bench->steps_per_mm == 320.5);
  CHECK(bench->coupling == Coupling::push);
  CHECK_THAT(bench->latitude_rad.value(), WithinRel(47 * 3.141592653589793 / 180, 1e-15));
  CHECK(bench->force_calibration == "calibrations/f.json");

  struct Row {
    const char* text;
    Errc code;
    const char* starts;
  };
  const auto row = GENERATE(values<Row>({
      {"[rig]\nprot = \"x\"\n", Errc::input_unknown_key, "bench.toml:2:1: 'prot' in [rig]"},
      {"[rigs]\n", Errc::input_unknown_key, "bench.toml:1:"},
      {"[rig]\nsteps_per_mm = \"400\"\n", Errc::input_malformed, "bench.toml:2:16: "},
      {"[rig]\nsteps_per_mm = 0\n", Errc::input_out_of_range, "bench.toml:2:16: "},
      {"[limits]\nforce = \"25 mm\"\n", Errc::unit_wrong_dimension, "bench.toml:2:9: "},
      {"[rig]\ncoupling = \"glued\"\n", Errc::input_malformed, "bench.toml:2:12: "},
      {"[place]\ngravity_m_s2 = 98.1\n", Errc::input_out_of_range, "bench.toml:2:16: "},
  }));
  CAPTURE(row.text);
  const Result<Bench> refused = parse_bench(row.text, "bench.toml");
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == row.code);
  CHECK_THAT(refused.error().message, StartsWith(row.starts));
}
