// Readings from files: what is understood, and where a mistake is said to be.
#include "calibration/readings_file.hpp"

#include <catch2/catch.hpp>

namespace {

using calibration::Direction;
using calibration::Kind;
using calibration::parse_readings_csv;
using calibration::parse_readings_toml;
using calibration::ReadingSet;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinRel;
using protocol::Errc;

TEST_CASE("readings: CSV with columns in any order, series and directions", "[calibration]") {
  const ReadingSet set = parse_readings_csv(
                             "\xEF\xBB\xBF"
                             "series,\"counts\",direction,load_lb\r\n"
                             "1,12031,up,0\r\n"
                             "\r\n"
                             "2, 90518 ,descending,22.5\r\n",
                             "cell.csv", Kind::force)
                             .value();
  REQUIRE(set.readings.size() == 2);
  CHECK(set.readings[0].direction == Direction::ascending);
  CHECK(set.readings[1].reading == 90518.0);
  CHECK(set.readings[1].series == 2);
  CHECK(set.readings[1].line == 4);
  CHECK(set.readings[1].direction == Direction::descending);
  // Source: [UCUM] a pound is 0.45359237 kg by definition.
  CHECK_THAT(set.readings[1].load_kg.value(), WithinRel(22.5 * 0.45359237, 1e-15));
}

TEST_CASE("readings: each kind has its own columns and units", "[calibration]") {
  const ReadingSet force =
      parse_readings_csv("force_lbf,counts\n10,5\n", "f.csv", Kind::force).value();
  CHECK_THAT(force.readings[0].reference, WithinRel(44.482216152605, 1e-14));
  const ReadingSet travel =
      parse_readings_csv("steps,travel_in\n5080,0.5\n", "t.csv", Kind::travel).value();
  CHECK_THAT(travel.readings[0].reference, WithinRel(0.0127, 1e-14));
  CHECK(travel.readings[0].reading == 5080.0);
  const ReadingSet frame =
      parse_readings_csv("force_kN,deflection_mm\n1.5,0.4\n", "r.csv", Kind::frame).value();
  CHECK(frame.readings[0].reading == 1500.0);
  CHECK_THAT(frame.readings[0].reference, WithinRel(0.0004, 1e-14));
}

TEST_CASE("readings: TOML carries the particulars", "[calibration]") {
  const ReadingSet set = parse_readings_toml(R"(
kind = "force"
rig = "bench 1"
cell = "0417"
operator = "R. Fell"
date = 2026-11-25
valid_until = "2027-11-25"
gravity_m_s2 = 9.8123
air_density_kg_m3 = 1.2
counts_highest = 32767
[[standards]]
name = "weights"
certificate = "W-2231"
relative_standard_uncertainty = "0.003 %"
[[standards]]
name = "more weights"
[[readings]]
load_kg = 10
counts = 90518
series = 2
direction = "down"
)",
                                             "cell.toml", Kind::force)
                             .value();
  CHECK(set.particulars.rig_id == "bench 1");
  CHECK(set.particulars.cell_id == "0417");
  CHECK(set.particulars.operator_name == "R. Fell");
  CHECK(set.particulars.date == "2026-11-25");
  CHECK(set.particulars.valid_until == "2027-11-25");
  CHECK(set.conditions.gravity_m_s2 == 9.8123);
  CHECK(set.conditions.air_density_kg_m3 == 1.2);
  CHECK(set.counts_highest == 32767.0);
  REQUIRE(set.particulars.standards.size() == 2);
  CHECK(set.particulars.standards[0].certificate == "W-2231");
  CHECK_THAT(set.particulars.standards[0].relative_standard_uncertainty.value(),
             WithinRel(3e-5, 1e-12));
  CHECK_FALSE(set.particulars.standards[1].relative_standard_uncertainty.has_value());
  REQUIRE(set.readings.size() == 1);
  CHECK(set.readings[0].load_kg == 10.0);
  CHECK(set.readings[0].direction == Direction::descending);
  CHECK(set.readings[0].series == 2);
}

TEST_CASE("readings: TOML carries place, air, creep and resolution", "[calibration]") {
  const ReadingSet set = parse_readings_toml(R"(
place = "bench room"
temperature = "21 degC"
latitude = "50 deg"
altitude = "200 m"
air_temperature = "22 degC"
air_pressure = "98.5 kPa"
air_humidity = "45 %"
resolution_counts = 2
creep_load_kg = 50
[[standards]]
name = "set 3"
weight_class = "M1"
valid_until = 2027-05-01
[[creep]]
time_s = 0
counts = 51200
[[creep]]
time_s = 600
counts = 51209
[[readings]]
load_kg = 10
counts = 90518
)",
                                             "cell.toml", Kind::force)
                             .value();
  CHECK(set.particulars.place == "bench room");
  CHECK_THAT(set.particulars.temperature_K.value(), WithinRel(294.15, 1e-14));
  CHECK_THAT(set.surroundings.latitude_rad.value(), WithinRel(0.872664625997165, 1e-14));
  CHECK(set.surroundings.altitude_m == 200.0);
  CHECK_THAT(set.surroundings.air_temperature_K.value(), WithinRel(295.15, 1e-14));
  CHECK_THAT(set.surroundings.air_pressure_Pa.value(), WithinRel(98500.0, 1e-14));
  CHECK_THAT(set.surroundings.air_humidity.value(), WithinRel(0.45, 1e-14));
  CHECK(set.resolution == 2.0);
  REQUIRE(set.particulars.standards.size() == 1);
  CHECK(set.particulars.standards[0].weight_class == "M1");
  CHECK(set.particulars.standards[0].valid_until == "2027-05-01");
  REQUIRE(set.creep.has_value());
  CHECK(set.creep->load_kg == 50.0);
  REQUIRE(set.creep->readings.size() == 2);
  CHECK(set.creep->readings[1].time_s == 600.0);
  CHECK(set.creep->readings[1].reading == 51209.0);
}

TEST_CASE("readings: creep as CSV", "[calibration]") {
  const auto creep =
      calibration::parse_creep_csv("time_s,counts\n\n0,51200\n600,51209\n", "creep.csv").value();
  REQUIRE(creep.size() == 2);
  CHECK(creep[1].reading == 51209.0);
  for (const auto& [text, says] : {std::pair{"counts,time_s\n1,2\n", "creep.csv:1: the header"},
                                   std::pair{"time_s,counts\n1\n", "creep.csv:2: 1 fields"},
                                   std::pair{"time_s,counts\n1,x\n", "creep.csv:2:2: 'x'"}}) {
    const auto refused = calibration::parse_creep_csv(text, "creep.csv");
    REQUIRE_FALSE(refused);
    CHECK_THAT(refused.error().message, Contains(says));
  }
}

struct BadText {
  const char* text;
  Errc code;
  const char* says;
};

TEST_CASE("readings: a CSV mistake is named with line and column", "[calibration][fault]") {
  const BadText bad = GENERATE(values<BadText>({
      {"", Errc::input_malformed, "r.csv: holds no readings"},
      {"load_kg,counts\n", Errc::input_malformed, "holds no readings"},
      {"load_kg,counts\n1,2\n3,4x\n", Errc::input_malformed, "r.csv:3:2: '4x' is not a number"},
      {"load_kg,counts\n1,2\n3\n", Errc::input_malformed, "r.csv:3: 1 fields"},
      {"load_kg,counts\n1,nan\n", Errc::input_out_of_range, "r.csv:2:2"},
      {"load_kg,counts\n1,\n", Errc::input_malformed, "r.csv:2:2: '' is not a number"},
      {"load_kg;counts\n1;2\n", Errc::unit_unknown, "r.csv:1"},
      {"load_kg\n1\n", Errc::input_malformed, "one column of readings"},
      {"load_kg,force_N,counts\n1,9.8,2\n", Errc::input_malformed, "one column of readings"},
      {"counts,counts,load_kg\n1,2,3\n", Errc::input_malformed, "stands twice"},
      {"weight_kg,counts\n1,2\n", Errc::input_unknown_key, "'weight_kg' is not known"},
      {"load_st,counts\n1,2\n", Errc::unit_unknown, "'st'"},
      {"load_mm,counts\n1,2\n", Errc::unit_wrong_dimension, "'mm' in 'load_mm' is a length"},
      {"load_kg,steps\n1,2\n", Errc::input_unknown_key, "'steps' is not known"},
      {"load_kg,counts,series\n1,2,0\n", Errc::input_out_of_range, "series 0"},
      {"load_kg,counts,series\n1,2,1.5\n", Errc::input_out_of_range, "series 1.5"},
      {"load_kg,counts,direction\n1,2,sideways\n", Errc::input_malformed, "r.csv:2:3: 'sideways'"},
  }));
  CAPTURE(bad.text);
  const protocol::Result<ReadingSet> set = parse_readings_csv(bad.text, "r.csv", Kind::force);
  REQUIRE_FALSE(set);
  CHECK(set.error().code == bad.code);
  CHECK_THAT(set.error().message, Contains(bad.says));
}

TEST_CASE("readings: a TOML mistake is named with line and column", "[calibration][fault]") {
  const BadText bad = GENERATE(values<BadText>({
      {"", Errc::input_malformed, "holds no [[readings]]"},
      {"gravity_m_s2 = \n", Errc::input_malformed, "r.toml:1:"},
      {"kind = \"travel\"\n", Errc::input_malformed, "these are travel readings"},
      {"opertor = \"R. Fell\"\n", Errc::input_unknown_key, "r.toml:1:11: 'opertor' is not known"},
      {"gravity_m_s2 = \"9.8\"\n", Errc::input_malformed, "must be a number"},
      {"operator = 3\n", Errc::input_malformed, "must be a text"},
      {"readings = 3\n", Errc::input_malformed, "write [[readings]]"},
      {"readings = [3]\n", Errc::input_malformed, "a reading must be a table"},
      {"[[readings]]\ncounts = 1\n", Errc::input_malformed, "r.toml:1:1: a reading names"},
      {"[[readings]]\ncounts = \"x\"\nload_kg = 1\n", Errc::input_malformed, "r.toml:2:10"},
      {"[[readings]]\ncounts = nan\nload_kg = 1\n", Errc::input_out_of_range, "r.toml:2:10"},
      {"[[readings]]\ncounts = 1\nload_kg = 1\nlevel = 2\n", Errc::input_unknown_key, "'level'"},
      {"[[readings]]\ncounts = 1\nload_kg = 1\ndirection = 1\n", Errc::input_malformed, "text"},
      {"standards = [1]\n", Errc::input_malformed, "a standard must be a table"},
      {"[[standards]]\nserial = \"x\"\n", Errc::input_unknown_key, "'serial'"},
      {"latitude = \"50 m\"\n", Errc::unit_wrong_dimension, "r.toml:1:"},
      {"altitude = 200\n", Errc::input_malformed, "must be a text"},
      {"resolution_steps = 2\n", Errc::input_unknown_key, "resolution_counts"},
      {"[[creep]]\ntime_s = 1\n", Errc::input_malformed, "time_s and counts"},
      {"[[creep]]\ntime = 1\n", Errc::input_unknown_key, "'time'"},
      {"[[standards]]\nrelative_standard_uncertainty = \"1 mm\"\n", Errc::unit_wrong_dimension,
       "r.toml:2:"},
  }));
  CAPTURE(bad.text);
  const protocol::Result<ReadingSet> set = parse_readings_toml(bad.text, "r.toml", Kind::force);
  REQUIRE_FALSE(set);
  CHECK(set.error().code == bad.code);
  CHECK_THAT(set.error().message, Contains(bad.says));
}

TEST_CASE("readings: a file that is not there, or of no known kind", "[calibration][fault]") {
  const auto missing = calibration::load_readings("no/such/readings.csv", Kind::force);
  REQUIRE_FALSE(missing);
  CHECK(missing.error().code == Errc::input_missing);
  const auto other = calibration::load_readings("readings.xlsx", Kind::force);
  REQUIRE_FALSE(other);
  CHECK(other.error().code == Errc::input_malformed);
  CHECK_THAT(other.error().message, Contains(".toml or .csv"));
}

}  // namespace
